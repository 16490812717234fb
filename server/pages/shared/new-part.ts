/** Parts described on a form by one figure, where the shelf holds none. */
import type { PartChoice } from '../../records/chain.ts'
import type { StoredPart } from '../../records/parts.ts'
import type { FormReader } from '../../web/form.ts'
import { partByFigure } from './main-rating.ts'

export const rowTypes = ['conductor', 'fuse', 'breaker', 'relay', 'switch', 'diode', 'load', 'connector', 'splice'] as const
export type RowType = (typeof rowTypes)[number]

/** What the one figure of a row of that type is called. */
export const figureOf: Readonly<Record<string, { readonly label: string }>> = {
  fuse: { label: 'Rating' },
  breaker: { label: 'Rating' },
  relay: { label: 'Contact rating' },
  switch: { label: 'Rating' },
  diode: { label: 'Rating' },
  connector: { label: 'Rating of a pole' },
  splice: { label: 'Rating' },
  load: { label: 'Draws' },
}

/** A number, or null where it is blank or "don't know" is ticked beside it. */
export function numberOrUnknown(form: FormReader, field: string, bounds: Parameters<FormReader['number']>[1]): number | null {
  return form.ticked(`unknown-${field}`) ? null : form.number(field, bounds)
}

/** The part of a row: one of the shelf, or a new one by its figure. */
export function readPartChoice(
  form: FormReader,
  given: {
    readonly type: RowType
    readonly suffix: string
    readonly name: string
    readonly parts: ReadonlyMap<string, unknown>
    readonly systemVoltage_V: number
  },
): PartChoice {
  const { type, suffix, name, parts } = given
  const amperes = numberOrUnknown(form, `figure${suffix}`, { min: 0, max: 5000 })
  const chosen = form.text(`part${suffix}`, { max: 80 })
  if (chosen === '') return { new: newPart(type, { name, amperes, systemVoltage_V: given.systemVoltage_V }) }
  if (!parts.has(chosen)) form.fault(`part${suffix}`, 'There is no such part on the shelf.')
  return { id: chosen }
}

function newPart(type: RowType, given: { readonly name: string; readonly amperes: number | null; readonly systemVoltage_V: number }) {
  const { name, amperes, systemVoltage_V } = given
  const called = amperes === null ? name : `${name}, ${amperes} A`
  return partByFigure({ kind: type, name: called, value: amperes, systemVoltage_V })
}

/** A shelf part of the same size and insulation, else a new one. Null is not known. */
export function conductorPart(
  parts: readonly StoredPart[],
  given: { readonly size_mm2: number | null; readonly insulation_degC: number | null },
): PartChoice {
  const { size_mm2, insulation_degC } = given
  const same = parts.find(
    (part) =>
      part.kind === 'conductor' &&
      size_mm2 !== null &&
      part.ratings.crossSection_mm2 === size_mm2 &&
      part.ratings.insulation_degC === (insulation_degC ?? undefined) &&
      part.ratings.material === 'copper',
  )
  if (same) return { id: same.id }
  return {
    new: {
      kind: 'conductor',
      name: size_mm2 === null ? 'Wire of unknown size' : `${size_mm2} mm² copper wire`,
      ratings: {
        material: 'copper',
        ...(size_mm2 === null ? {} : { crossSection_mm2: size_mm2 }),
        ...(insulation_degC === null ? {} : { insulation_degC }),
      },
      evidence: {},
    },
  }
}
