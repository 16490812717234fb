/** The shape of a part kind: its terminals, its rating fields and what it puts in the circuit. */
import type { Component, Ratings } from '../vehicle.ts'

export type Better = 'higher' | 'lower'

export type RatingField =
  | {
      readonly name: string
      readonly label: string
      readonly type: 'number'
      readonly unit: string
      readonly min?: number
      readonly max?: number
      readonly aboveZero?: boolean
      readonly whole?: boolean
      readonly basic?: boolean
      /** which of two figures serves better whatever the job; absent where it depends on the job */
      readonly better?: Better
      readonly help?: string
    }
  | {
      readonly name: string
      readonly label: string
      readonly type: 'choice'
      readonly options: readonly string[]
      readonly basic?: boolean
      readonly help?: string
    }
  | {
      readonly name: string
      readonly label: string
      readonly type: 'text'
      readonly pattern?: string
      readonly basic?: boolean
      readonly help?: string
    }
  | { readonly name: string; readonly label: string; readonly type: 'flag'; readonly basic?: boolean; readonly help?: string }
  | {
      readonly name: string
      readonly label: string
      readonly type: 'rows'
      readonly columns: readonly { readonly name: string; readonly label: string; readonly unit: string }[]
      readonly help?: string
    }
  | { readonly name: string; readonly label: string; readonly type: 'size'; readonly help?: string }

/** Terminals are a fixed list, or any name (one node), or generated from a pattern such as out1, out2 … or 1a 1b 2a 2b. */
export type Terminals =
  | { readonly type: 'fixed'; readonly names: readonly string[]; readonly fluid?: readonly string[] }
  | { readonly type: 'one-node' }
  | { readonly type: 'pattern'; readonly pattern: RegExp; readonly names: readonly string[] }

/** A path for current inside the part. `ohm` undefined: not known and no typical figure. */
export type InnerBranch = {
  readonly from: string
  readonly to: string
  readonly element: 'series' | 'contact-make' | 'contact-break' | 'coil' | 'load' | 'diode' | 'source' | 'output'
}

export type PartKind = {
  readonly id: string
  readonly title: string
  readonly terminals: Terminals
  /** besides the fields every kind has (see every-kind.ts) */
  readonly fields: readonly RatingField[]
  /** the inner branches of a part of this kind; terminal names in use are given for pattern kinds */
  readonly branches: (given: {
    readonly ratings: Ratings
    readonly component: Component
    readonly terminalsInUse: readonly string[]
  }) => readonly InnerBranch[]
}

export function definePartKind(kind: PartKind): PartKind {
  return kind
}
