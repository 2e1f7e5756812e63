/** A file that FFmpeg opens, and the options before it. */
export interface GraphInput {
  /** A clip or the sound by its path; a drawing by its number, since its file is made when the graph is run. */
  readonly source:
    | { readonly kind: 'file'; readonly path: string }
    | { readonly kind: 'drawing'; readonly index: number };
  readonly options: readonly string[];
}

/** Some filters one after the other, with the labels of what goes in and what comes out. */
export interface Chain {
  readonly inputs: readonly string[];
  readonly filters: readonly string[];
  readonly output: string;
}

/** FFmpeg's filter graph of a canvas, as a value. */
export interface FilterGraph {
  readonly inputs: readonly GraphInput[];
  readonly chains: readonly Chain[];
}

/** The graph in FFmpeg's own words, a chain a line. */
export function graphText({ chains }: FilterGraph): string {
  return chains
    .map(({ inputs, filters, output }) => {
      const into = inputs.map((label) => `[${label}]`).join('');
      return `${into}${filters.length === 0 ? 'null' : filters.join(',')}[${output}]`;
    })
    .join(';\n');
}

/** Collects inputs and chains, and names what passes between them. */
export class GraphBuilder {
  readonly #inputs: GraphInput[] = [];
  readonly #chains: Chain[] = [];
  #labels = 0;

  /** Adds an input; gives its number, which labels of its streams begin with. */
  input(input: GraphInput): number {
    this.#inputs.push(input);
    return this.#inputs.length - 1;
  }

  /** Adds a chain; gives the label of what comes out. */
  chain(inputs: readonly string[], filters: readonly string[], output = `l${this.#labels++}`): string {
    this.#chains.push({ inputs, filters, output });
    return output;
  }

  graph(): FilterGraph {
    return { inputs: [...this.#inputs], chains: [...this.#chains] };
  }
}
