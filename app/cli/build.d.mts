/** True when out/ is missing or older than a source. */
export function isStale(): boolean;
/** Bundles into out/. */
export function build(): Promise<void>;
