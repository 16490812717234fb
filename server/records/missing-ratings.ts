/** Ratings that a vehicle's unknown findings miss, as ratings of the parts its components hold. */
import { everyKindFields, fieldsOf } from '../engine/parts/index.ts'
import type { Part, Report, VehicleDocument } from './engine-types.ts'

/** `settles` counts the unknown findings that miss nothing else. */
export type MissingRating = { readonly part: string; readonly rating: string; readonly settles: number }

export function missingRatings(document: VehicleDocument, report: Report): readonly MissingRating[] {
  const parts = new Map(document.parts.map((part) => [part.key, part]))
  const found = new Map<string, MissingRating>()
  for (const finding of report.findings) {
    if (finding.verdict !== 'unknown') continue
    const missing = [...new Set(finding.missing.map((name) => placed(name, finding.component, document, parts)))]
    for (const place of missing) {
      if (place === null) continue
      const [part = '', rating = ''] = place.split(' ')
      const settles = (found.get(place)?.settles ?? 0) + (missing.length === 1 ? 1 : 0)
      found.set(place, { part, rating, settles })
    }
  }
  return [...found.values()]
}

/** What is missing as "part rating" where it is a rating of some component's part; anything else that is missing as null. */
function placed(missing: string, judged: string, document: VehicleDocument, parts: ReadonlyMap<string, Part>): string | null {
  const other = document.components.find((one) => missing.endsWith(` of ${one.name}`))
  const [key = '', name = ''] = missing.split('.')
  const byKey = document.components.find((one) => one.key === key)
  const component = byKey ?? other ?? document.components.find((one) => one.key === judged)
  const words = other ? missing.slice(0, -` of ${other.name}`.length) : missing
  const rating = byKey ? name : ratingInWords[words]
  const part = parts.get(component?.part ?? '')
  if (!part || rating === undefined || !fieldNames(part.kind).has(rating)) return null
  return `${part.key} ${rating}`
}

/** The check names what it misses in words; these are the ratings they mean. */
const ratingInWords: Readonly<Record<string, string>> = {
  'rated current': 'rated_A',
  'rated voltage': 'rated_V',
  'carry current of the make contact': 'make_A',
  'carry current of the break contact': 'break_A',
  'cross-section': 'crossSection_mm2',
  'insulation temperature rating': 'insulation_degC',
  'rating of the whole': 'total_A',
  'rating of one way': 'way_A',
  'set-point': 'setPoint_V',
  output: 'output_A',
  'output at idle': 'idleOutput_A',
  current: 'current_A',
}

function fieldNames(kind: string): ReadonlySet<string> {
  return new Set([...everyKindFields, ...fieldsOf(kind)].map((field) => field.name))
}
