/** The vehicle document at the door: refused whole, with the path of every fault. */

import { areaOf_mm2 } from '../engine/parts/conductor-sizes.ts'
import { isFluid, isTerminal, partKind } from '../engine/parts/index.ts'
import type { VehicleDocument } from '../engine/vehicle.ts'
import { documentShape } from './schema.ts'

export type Fault = { readonly path: string; readonly says: string }
export type Parsed = { readonly ok: true; readonly document: VehicleDocument } | { readonly ok: false; readonly faults: readonly Fault[] }

/** Parses JSON text, then the document. */
export function parseText(text: string): Parsed {
  try {
    return parseDocument(JSON.parse(text))
  } catch (error) {
    return { ok: false, faults: [{ path: '', says: `This is not JSON: ${error instanceof Error ? error.message : 'it cannot be read'}.` }] }
  }
}

/** A document, or every fault with its JSON path: faults of shape and faults of reference side by side. */
export function parseDocument(input: unknown): Parsed {
  const shape = documentShape.safeParse(input)
  const faults: Fault[] = shape.success ? [] : shape.error.issues.flatMap((issue) => issueFaults(issue as Issue, input))
  faults.push(...referenceFaults(input))
  if (faults.length > 0) return { ok: false, faults: faults.sort((a, b) => (a.path < b.path ? -1 : a.path > b.path ? 1 : 0)) }
  return { ok: true, document: shape.data as unknown as VehicleDocument }
}

type Issue = {
  readonly code: string
  readonly path: readonly PropertyKey[]
  readonly message: string
  readonly keys?: readonly string[]
  readonly errors?: readonly (readonly Issue[])[]
}

function issueFaults(issue: Issue, input: unknown): Fault[] {
  const path = pathText(issue.path)
  if (issue.code === 'unrecognized_keys')
    return (issue.keys ?? []).map((key) => ({ path: path === '' ? key : `${path}.${key}`, says: 'There is no such field.' }))
  if (issue.code === 'invalid_union')
    return [{ path: path.endsWith('.kind') ? path : `${path}.kind`, says: 'There is no such kind of part.' }]
  const found = at(input, issue.path)
  return [{ path, says: found === undefined ? 'This is required.' : `${issue.message}; found ${shown(found)}.` }]
}

/** Duplicate keys, dangling references, terminals that are not there, and joins that cannot be. */
function referenceFaults(input: unknown): Fault[] {
  const faults: Fault[] = []
  const list = (name: string) => {
    const found = record(input)?.[name]
    return Array.isArray(found) ? found.map((one) => record(one) ?? {}) : []
  }
  const [parts, components, zones, joins, conditions] = [
    list('parts'),
    list('components'),
    list('zones'),
    list('joins'),
    list('conditions'),
  ]
  for (const [name, items] of Object.entries({ zones, parts, components, conditions })) {
    const seen = new Set<unknown>()
    items.forEach((item, n) => {
      if (typeof item.key !== 'string') return
      if (seen.has(item.key)) faults.push({ path: `${name}[${n}].key`, says: `The key "${item.key}" stands twice.` })
      seen.add(item.key)
    })
  }
  const kindByPart = new Map(parts.map((part) => [part.key, part.kind]))
  const zoneKeys = new Set(zones.map((zone) => zone.key))
  const kindByComponent = new Map(components.map((component) => [component.key, kindByPart.get(component.part)]))
  parts.forEach((part, n) => {
    const ratings = record(part.ratings) ?? {}
    for (const name of Object.keys(record(part.evidence) ?? {}))
      if (!(name in ratings)) faults.push({ path: `parts[${n}].evidence.${name}`, says: 'There is no rating of that name on this part.' })
    if ('crossSection_mm2' in ratings && 'size' in ratings)
      faults.push({ path: `parts[${n}].ratings.size`, says: 'A conductor has a cross-section or a named size, not both.' })
    const size = record(ratings.size)
    if (
      size &&
      typeof size.system === 'string' &&
      typeof size.name === 'string' &&
      areaOf_mm2({ system: size.system as 'AWG', name: size.name }) === null
    )
      faults.push({ path: `parts[${n}].ratings.size.name`, says: `${size.system} has no size "${size.name}".` })
  })
  components.forEach((component, n) => {
    if (typeof component.part === 'string' && !kindByPart.has(component.part))
      faults.push({ path: `components[${n}].part`, says: `There is no part "${component.part}".` })
    if (typeof component.zone === 'string' && !zoneKeys.has(component.zone))
      faults.push({ path: `components[${n}].zone`, says: `There is no zone "${component.zone}".` })
  })
  joins.forEach((join, n) => {
    const fluids = (['from', 'to'] as const).map((end) => {
      const full = join[end]
      if (typeof full !== 'string' || !full.includes(':')) return null
      const [component, ...rest] = full.split(':')
      const terminal = rest.join(':')
      if (!kindByComponent.has(component)) {
        faults.push({ path: `joins[${n}].${end}`, says: `There is no component "${component}".` })
        return null
      }
      const kind = kindByComponent.get(component)
      if (typeof kind !== 'string' || !partKind(kind)) return null
      if (!isTerminal(kind, terminal)) {
        faults.push({ path: `joins[${n}].${end}`, says: `A ${kind} has no terminal "${terminal}".` })
        return null
      }
      return isFluid(kind, terminal)
    })
    if (join.from === join.to && typeof join.from === 'string')
      faults.push({ path: `joins[${n}].to`, says: 'A terminal cannot be joined to itself.' })
    if (fluids[0] !== null && fluids[1] !== null && fluids[0] !== fluids[1])
      faults.push({ path: `joins[${n}]`, says: 'A join ties two electrical or two fluid terminals, not one of each.' })
  })
  conditions.forEach((condition, n) => {
    for (const [field, kinds, says] of [
      ['on', ['load', 'pump', 'charger'], 'is not a load'],
      ['open', ['fuse', 'breaker', 'switch', 'relay', 'connector', 'battery', 'module', 'load', 'pump'], 'cannot be open'],
    ] as const) {
      const named = condition[field]
      if (!Array.isArray(named)) continue
      named.forEach((key, k) => {
        if (typeof key !== 'string') return
        if (!kindByComponent.has(key)) faults.push({ path: `conditions[${n}].${field}[${k}]`, says: `There is no component "${key}".` })
        else if (typeof kindByComponent.get(key) === 'string' && !(kinds as readonly unknown[]).includes(kindByComponent.get(key)))
          faults.push({ path: `conditions[${n}].${field}[${k}]`, says: `"${key}" ${says}.` })
      })
    }
  })
  const asOf = record(input)?.asOf
  if (typeof asOf === 'string' && /^\d{4}-\d{2}-\d{2}$/.test(asOf) && !isDay(asOf))
    faults.push({ path: 'asOf', says: `${asOf} is not a day.` })
  return faults
}

function isDay(text: string): boolean {
  const [year, month, day] = text.split('-').map(Number) as [number, number, number]
  const lengths = [31, year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0) ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
  return month >= 1 && month <= 12 && day >= 1 && day <= (lengths[month - 1] as number)
}

function pathText(path: readonly PropertyKey[]): string {
  return path.map((step, n) => (typeof step === 'number' ? `[${step}]` : `${n === 0 ? '' : '.'}${String(step)}`)).join('')
}

function at(input: unknown, path: readonly PropertyKey[]): unknown {
  let found: unknown = input
  for (const step of path) found = typeof found === 'object' && found !== null ? (found as Record<PropertyKey, unknown>)[step] : undefined
  return found
}

function shown(value: unknown): string {
  const text = typeof value === 'number' && !Number.isFinite(value) ? String(value) : (JSON.stringify(value) ?? String(value))
  return text.length > 60 ? `${text.slice(0, 57)}…` : text
}

function record(value: unknown): Record<string, unknown> | undefined {
  return typeof value === 'object' && value !== null && !Array.isArray(value) ? (value as Record<string, unknown>) : undefined
}
