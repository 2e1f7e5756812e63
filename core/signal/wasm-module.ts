import { decodeBase64 } from './base64.ts';

/** The little of WebAssembly that kernels need; core's libraries do not name it. */
interface WebAssemblyApi {
  validate(bytes: Uint8Array): boolean;
  readonly Module: new (bytes: Uint8Array) => object;
  readonly Instance: new (module: object, imports: object) => { readonly exports: unknown };
}

/** A kernel's code: compiled once a thread, at its first use, for all its instances. */
export class WasmModule<Exports> {
  readonly #base64: string;
  #compiled: object | undefined;

  constructor(base64: string) {
    this.#base64 = base64;
  }

  /**
   * A new instance with memory of its own, which may call the functions of `Math`, or undefined where WebAssembly or what the code needs of it (SIMD) is not to be
   * had: callers then use plain TypeScript.
   */
  instantiate(): Exports | undefined {
    const api = (globalThis as { WebAssembly?: WebAssemblyApi }).WebAssembly;
    if (api === undefined) return undefined;
    if (this.#compiled === undefined) {
      const bytes = decodeBase64(this.#base64);
      if (!api.validate(bytes)) return undefined;
      this.#compiled = new api.Module(bytes);
    }
    return new api.Instance(this.#compiled, { Math }).exports as Exports;
  }
}
