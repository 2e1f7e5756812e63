declare module '*.css';
/** A worker of its own bundle, by its address. */
declare module '*?worker&url' {
  const url: string;
  export default url;
}
