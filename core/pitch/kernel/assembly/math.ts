/**
 * The engine's own functions: where two ways cost exactly the same, the last bit of a logarithm chooses between them, and has to be that of
 * the plain TypeScript.
 */
// @ts-ignore: decorator
@external("Math", "log")
export declare function log(value: f64): f64;
// @ts-ignore: decorator
@external("Math", "log2")
export declare function log2(value: f64): f64;
// @ts-ignore: decorator
@external("Math", "exp")
export declare function exp(value: f64): f64;
// @ts-ignore: decorator
@external("Math", "pow")
export declare function pow(base: f64, exponent: f64): f64;
// @ts-ignore: decorator
@external("Math", "log10")
export declare function log10(value: f64): f64;
