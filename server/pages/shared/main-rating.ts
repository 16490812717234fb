/** The one figure that a part is asked for by: a fuse's amperes, a wire's cross-section. */
import { fieldsOf } from '../../engine/parts/index.ts'
import type { Ratings } from '../../engine/vehicle.ts'
import { figure } from '../../web/format.ts'

type MainRating = { readonly rating: string; readonly label: string; readonly unit: string }

/** Where the first basic number is not the one; of several, the first that is known. */
const mainOf: Readonly<Record<string, readonly string[]>> = {
  load: ['current_A', 'power_W'],
  pump: ['current_A', 'power_W'],
  battery: ['capacity_Ah'],
  alternator: ['output_A'],
  converter: ['output_A'],
  charger: ['output_A'],
  connector: ['pole_A'],
  block: ['total_A', 'way_A'],
  module: ['total_A', 'channel_A'],
}

/** Null: parts of that kind have no such figure. */
export function mainRating(kind: string): MainRating | null {
  return mainRatings(kind)[0] ?? null
}

/** "40 A", or nothing where it is not known. */
export function mainFigure(part: { readonly kind: string; readonly ratings: Ratings }): string {
  for (const { rating, unit } of mainRatings(part.kind)) {
    const value = part.ratings[rating]
    if (typeof value === 'number') return figure(value, unit)
  }
  return ''
}

/** A part by its name and that figure alone; null is not known. What its kind cannot be without is filled in as parts made in a chain are. */
export function partByFigure(given: {
  readonly kind: string
  readonly name: string
  readonly value: number | null
  readonly systemVoltage_V: number
}) {
  const { kind, name, value, systemVoltage_V } = given
  const main = mainRating(kind)
  const ratings: Ratings = {
    ...(kind === 'load' || kind === 'pump' ? { behaviour: 'current', rated_V: systemVoltage_V } : {}),
    ...(kind === 'connector' ? { poles: 1 } : {}),
    ...(kind === 'conductor' ? { material: 'copper' } : {}),
    ...(value === null || main === null ? {} : { [main.rating]: value }),
  }
  return { kind, name, ratings, evidence: {} }
}

function mainRatings(kind: string): readonly MainRating[] {
  const numbers = fieldsOf(kind).flatMap((field) => (field.type === 'number' ? [field] : []))
  const named = (mainOf[kind] ?? []).flatMap((name) => numbers.filter((field) => field.name === name))
  const basic = numbers.filter((field) => field.basic)
  return (named.length > 0 ? named : basic.slice(0, 1)).map(({ name, label, unit }) => ({ rating: name, label, unit }))
}
