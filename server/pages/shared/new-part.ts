/** Parts described on a form by one figure, where the shelf holds none. */
import type { Grade, Ratings } from '../../engine/vehicle.ts'
import type { PartChoice } from '../../records/chain.ts'
import type { StoredPart } from '../../records/parts.ts'
import type { FormReader } from '../../web/form.ts'

export const rowTypes = ['conductor', 'fuse', 'breaker', 'relay', 'switch', 'diode', 'load', 'connector', 'splice'] as const
export type RowType = (typeof rowTypes)[number]

/** The figure that a row of that type asks for. */
export const figureOf: Readonly<Record<string, { readonly rating: string; readonly label: string }>> = {
  fuse: { rating: 'rated_A', label: 'Rating' },
  breaker: { rating: 'rated_A', label: 'Rating' },
  relay: { rating: 'make_A', label: 'Contact rating' },
  switch: { rating: 'rated_A', label: 'Rating' },
  diode: { rating: 'rated_A', label: 'Rating' },
  connector: { rating: 'pole_A', label: 'Rating of a pole' },
  splice: { rating: 'rated_A', label: 'Rating' },
  load: { rating: 'current_A', label: 'Draws' },
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
    readonly parts: readonly StoredPart[]
    readonly systemVoltage_V: number
  },
): PartChoice {
  const { type, suffix, name, parts } = given
  const amperes = numberOrUnknown(form, `figure${suffix}`, { min: 0, max: 5000 })
  const chosen = form.text(`part${suffix}`, { max: 80 })
  if (chosen === '') return { new: newPart(type, { name, amperes, systemVoltage_V: given.systemVoltage_V }) }
  if (!parts.some((part) => part.id === chosen)) form.fault(`part${suffix}`, 'There is no such part on the shelf.')
  return { id: chosen }
}

function newPart(type: RowType, given: { readonly name: string; readonly amperes: number | null; readonly systemVoltage_V: number }) {
  const { name, amperes, systemVoltage_V } = given
  const ratings: Ratings = {
    ...(type === 'load' ? { behaviour: 'current', rated_V: systemVoltage_V } : {}),
    ...(type === 'connector' ? { poles: 1 } : {}),
    ...(amperes === null ? {} : { [figureOf[type]?.rating as string]: amperes }),
  }
  const evidence: Record<string, Grade> = {}
  return { kind: type, name: amperes === null ? name : `${name}, ${amperes} A`, ratings, evidence }
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
