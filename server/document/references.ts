/** What one list of a document says of another: duplicate keys, dangling references, terminals that are not there. */
import { areaOf_mm2 } from '../engine/parts/conductor-sizes.ts'
import { isFluid, isTerminal, partKind } from '../engine/parts/index.ts'
import type { Fault } from './fault.ts'

type Item = Readonly<Record<string, unknown>>
type Lists = Readonly<Record<'zones' | 'parts' | 'components' | 'joins' | 'conditions', readonly Item[]>>

/** Kind of the part that each component is; the value is undefined where the part, or its kind, is not there. */
type Kinds = ReadonlyMap<unknown, string | undefined>

const CAN_DRAW = ['load', 'pump', 'charger']
const CAN_OPEN = ['fuse', 'breaker', 'switch', 'relay', 'connector', 'module', 'battery', 'load', 'pump']

/** Faults of reference, found even where the shape is at fault too. */
export function referenceFaults(input: unknown): Fault[] {
  const document = record(input) ?? {}
  const lists: Lists = {
    zones: listOf(document.zones),
    parts: listOf(document.parts),
    components: listOf(document.components),
    joins: listOf(document.joins),
    conditions: listOf(document.conditions),
  }
  const kinds = kindsOf(lists)
  return [
    ...dayFaults(document.asOf),
    ...(['zones', 'parts', 'components', 'conditions'] as const).flatMap((name) => twiceFaults(name, lists[name])),
    ...lists.zones.flatMap((zone, n) => evidenceFaults({ at: `zones[${n}]`, evidence: zone.evidence, figures: zone })),
    ...lists.parts.flatMap(partFaults),
    ...componentFaults(lists, kinds),
    ...lists.joins.flatMap((join, n) => joinFaults({ join, at: `joins[${n}]`, kinds })),
    ...lists.conditions.flatMap((condition, n) => conditionFaults({ condition, at: `conditions[${n}]`, kinds })),
  ]
}

function kindsOf({ parts, components }: Lists): Kinds {
  const byPart = new Map(parts.map((part) => [part.key, part.kind]))
  return new Map(
    components.map((component) => {
      const kind = byPart.get(component.part)
      return [component.key, typeof kind === 'string' && partKind(kind) ? kind : undefined]
    }),
  )
}

function dayFaults(asOf: unknown): Fault[] {
  const parts = typeof asOf === 'string' ? /^(\d{4})-(\d{2})-(\d{2})$/.exec(asOf) : null
  if (!parts) return []
  const [year, month, day] = parts.slice(1).map(Number) as [number, number, number]
  const leap = year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0)
  const lengths = [31, leap ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
  return day >= 1 && day <= (lengths[month - 1] ?? 0) ? [] : [{ path: 'asOf', says: `${asOf} is not a day.` }]
}

function twiceFaults(name: string, items: readonly Item[]): Fault[] {
  const seen = new Set<unknown>()
  return items.flatMap(({ key }, n) => {
    const twice = typeof key === 'string' && seen.has(key)
    seen.add(key)
    return twice ? [{ path: `${name}[${n}].key`, says: `The key "${key}" stands twice.` }] : []
  })
}

function evidenceFaults(given: { at: string; evidence: unknown; figures: unknown }): Fault[] {
  const figures = record(given.figures) ?? {}
  const notGraded = ['key', 'name', 'evidence']
  return Object.keys(record(given.evidence) ?? {})
    .filter((name) => !Object.hasOwn(figures, name) || notGraded.includes(name))
    .map((name) => ({ path: `${given.at}.evidence.${name}`, says: 'This grades a figure that is not given.' }))
}

function partFaults(part: Item, n: number): Fault[] {
  const at = `parts[${n}]`
  const ratings = record(part.ratings) ?? {}
  const faults = evidenceFaults({ at, evidence: part.evidence, figures: ratings })
  if (Object.hasOwn(ratings, 'crossSection_mm2') && Object.hasOwn(ratings, 'size'))
    faults.push({ path: `${at}.ratings.size`, says: 'A conductor has a cross-section or a named size, not both.' })
  const { system, name } = record(ratings.size) ?? {}
  if ((system === 'AWG' || system === 'SAE' || system === 'mm2') && typeof name === 'string' && areaOf_mm2({ system, name }) === null)
    faults.push({ path: `${at}.ratings.size.name`, says: `${system} has no size "${name}".` })
  return faults
}

function componentFaults({ parts, zones, components }: Lists, kinds: Kinds): Fault[] {
  const partKeys = new Set(parts.map((part) => part.key))
  const zoneKeys = new Set(zones.map((zone) => zone.key))
  return components.flatMap(({ key, part, zone, fittings }, n) => {
    const at = `components[${n}]`
    const faults: Fault[] = []
    if (typeof part === 'string' && !partKeys.has(part)) faults.push({ path: `${at}.part`, says: `There is no part "${part}".` })
    if (typeof zone === 'string' && !zoneKeys.has(zone)) faults.push({ path: `${at}.zone`, says: `There is no zone "${zone}".` })
    const kind = kinds.get(key)
    for (const terminal of Object.keys(record(fittings) ?? {}))
      if (kind !== undefined && !isTerminal(kind, terminal))
        faults.push({ path: `${at}.fittings.${terminal}`, says: `A ${kind} has no terminal "${terminal}".` })
    return faults
  })
}

function joinFaults({ join, at, kinds }: { join: Item; at: string; kinds: Kinds }): Fault[] {
  const faults: Fault[] = []
  const fluid = (['from', 'to'] as const).map((end) => {
    const words = join[end]
    const cut = typeof words === 'string' ? words.indexOf(':') : -1
    if (typeof words !== 'string' || cut < 0) return undefined
    const [component, terminal] = [words.slice(0, cut), words.slice(cut + 1)]
    const kind = kinds.get(component)
    if (!kinds.has(component)) faults.push({ path: `${at}.${end}`, says: `There is no component "${component}".` })
    else if (kind !== undefined && !isTerminal(kind, terminal))
      faults.push({ path: `${at}.${end}`, says: `A ${kind} has no terminal "${terminal}".` })
    else if (kind !== undefined) return isFluid(kind, terminal)
    return undefined
  })
  if (typeof join.from === 'string' && join.from === join.to)
    faults.push({ path: `${at}.to`, says: 'A terminal cannot be joined to itself.' })
  if (fluid[0] !== undefined && fluid[1] !== undefined && fluid[0] !== fluid[1])
    faults.push({ path: at, says: 'A join ties two electrical or two fluid terminals, not one of each.' })
  return faults
}

function conditionFaults({ condition, at, kinds }: { condition: Item; at: string; kinds: Kinds }): Fault[] {
  const named = (field: 'on' | 'open', allowed: readonly string[], says: string) =>
    (Array.isArray(condition[field]) ? condition[field] : []).flatMap((key: unknown, n): Fault[] => {
      if (typeof key !== 'string') return []
      const path = `${at}.${field}[${n}]`
      if (!kinds.has(key)) return [{ path, says: `There is no component "${key}".` }]
      const kind = kinds.get(key)
      return kind !== undefined && !allowed.includes(kind) ? [{ path, says: `"${key}" ${says}.` }] : []
    })
  return [...named('on', CAN_DRAW, 'is not a load'), ...named('open', CAN_OPEN, 'cannot be open')]
}

function listOf(value: unknown): readonly Item[] {
  return Array.isArray(value) ? value.map((one) => record(one) ?? {}) : []
}

function record(value: unknown): Item | undefined {
  return typeof value === 'object' && value !== null && !Array.isArray(value) ? (value as Item) : undefined
}
