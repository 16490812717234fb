/** Short ways to write a rating field; the unit stands in the name after its one underscore. */
import type { Better, RatingField } from './part-kind.ts'

type Bounds = {
  readonly max?: number
  readonly basic?: boolean
  readonly help?: string
  readonly zero?: boolean
  readonly whole?: boolean
  readonly better?: Better
}

/** A number above zero (or from zero, with `zero`), in the unit its name ends in. */
export function quantity(name: string, label: string, bounds: Bounds = {}): RatingField {
  const { zero, ...rest } = bounds
  const unit = name.includes('_') ? name.slice(name.lastIndexOf('_') + 1) : ''
  return { name, label, type: 'number', unit, ...(zero ? { min: 0 } : { aboveZero: true }), max: 1e6, ...rest }
}

/** A temperature, which may be below zero. */
export function temperature(name: string, label: string, given: { readonly basic?: boolean; readonly better?: Better } = {}): RatingField {
  return { name, label, type: 'number', unit: 'degC', min: -60, max: 1000, ...given }
}

export function choice(name: string, label: string, options: readonly string[], given: { readonly basic?: boolean } = {}): RatingField {
  return { name, label, type: 'choice', options, ...given }
}
