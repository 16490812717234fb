/** One fault of a refused document: where, as a JSON path (empty for the whole), and what, in a sentence. */
export type Fault = { readonly path: string; readonly says: string }
