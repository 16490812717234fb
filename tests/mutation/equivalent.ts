/** Mutants that cannot change any verdict, each with the reason. An entry that a test catches, or that fits no mutant, is reported. */

export type Equivalent = { readonly unit: string; readonly what: string; readonly why: string }

export const equivalents: readonly Equivalent[] = []
