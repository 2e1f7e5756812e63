/** An element of a parsed XML document. */
export interface XmlElement {
  readonly name: string;
  readonly attributes: Readonly<Record<string, string>>;
  readonly children: readonly XmlElement[];
  /** The text directly within it, trimmed. */
  readonly text: string;
}

export function child(element: XmlElement, name: string): XmlElement | undefined {
  return element.children.find((one) => one.name === name);
}

export function childText(element: XmlElement, name: string): string | undefined {
  return child(element, name)?.text;
}

/** The number a child holds; undefined when there is no such child or no number in it. */
export function childNumber(element: XmlElement, name: string): number | undefined {
  const text = childText(element, name);
  if (text === undefined || text === '') return undefined;
  const value = Number(text);
  return Number.isFinite(value) ? value : undefined;
}
