/** The window's page and media have an address of their own, which nothing outside the program can reach. */
export const SCHEME = 'partsong';
export const PAGE_ADDRESS = `${SCHEME}://desk/`;

/** What the scheme may do: have an origin, be safe as https is, be fetched from, and stream. */
export const SCHEME_PRIVILEGES = [
  {
    scheme: SCHEME,
    privileges: { standard: true, secure: true, supportFetchAPI: true, stream: true },
  },
];

/** Whether an address is the page itself, whatever follows its '#'. */
export function isPageAddress(address: string): boolean {
  return address.split('#')[0] === PAGE_ADDRESS;
}

/** Whether an address, or an origin as Electron writes it, is one of our own. */
export function isOwnAddress(address: string): boolean {
  return `${address}/`.startsWith(PAGE_ADDRESS);
}
