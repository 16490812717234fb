/** The vehicle document at the door: refused whole, with the path of every fault. */
import type { VehicleDocument } from '../engine/vehicle.ts'
import type { Fault } from './fault.ts'
import { referenceFaults } from './references.ts'
import { documentShape, partShape } from './schema.ts'

export type Parsed = { readonly ok: true; readonly document: VehicleDocument } | { readonly ok: false; readonly faults: readonly Fault[] }

type Issue = { readonly code: string; readonly path: readonly PropertyKey[]; readonly message: string; readonly keys?: readonly string[] }

const pathOrder = new Intl.Collator('en', { numeric: true })

/** Parses JSON text, then the document. */
export function parseText(text: string): Parsed {
  let input: unknown
  try {
    input = JSON.parse(text)
  } catch (error) {
    return { ok: false, faults: [{ path: '', says: `This is not JSON: ${error instanceof Error ? error.message : 'it cannot be read'}.` }] }
  }
  return parseDocument(input)
}

/** A document, or every fault with its JSON path: faults of shape and faults of reference side by side. */
export function parseDocument(input: unknown): Parsed {
  const shape = documentShape.safeParse(input)
  const issues: readonly Issue[] = shape.success ? [] : (shape.error.issues as readonly Issue[])
  const faults = [...issues.flatMap((issue) => shapeFaults(issue, input)), ...referenceFaults(input)]
  if (!shape.success || faults.length > 0) return { ok: false, faults: faults.sort((a, b) => pathOrder.compare(a.path, b.path)) }
  return { ok: true, document: shape.data as unknown as VehicleDocument }
}

function shapeFaults(issue: Issue, input: unknown): Fault[] {
  if (issue.code === 'unrecognized_keys')
    return (issue.keys ?? []).map((key) => ({ path: pathText([...issue.path, key]), says: 'There is no such field.' }))
  if (issue.code === 'invalid_union') return faultsOfUnknownKind(issue, input)
  const path = pathText(issue.path)
  const found = at(input, issue.path)
  return [{ path, says: found === undefined ? 'This is required.' : `${issue.message}; found ${shown(found)}.` }]
}

/** A part whose kind there is not: its other faults are named all the same, but for its ratings. */
function faultsOfUnknownKind(issue: Issue, input: unknown): Fault[] {
  const [list, n] = issue.path as [string, number]
  const part = at(input, [list, n])
  const rest = partShape.safeParse(part)
  const others: readonly Issue[] = rest.success ? [] : (rest.error.issues as readonly Issue[])
  const says = at(part, ['kind']) === undefined ? 'This is required.' : `There is no such kind of part; found ${shown(at(part, ['kind']))}.`
  return [
    { path: pathText([list, n, 'kind']), says },
    ...others
      .filter((other) => other.path[0] !== 'kind')
      .flatMap((other) => shapeFaults({ ...other, path: [list, n, ...other.path] }, input)),
  ]
}

function pathText(path: readonly PropertyKey[]): string {
  const step = (one: PropertyKey, n: number) => {
    if (typeof one === 'number') return `[${one}]`
    const name = String(one)
    return /^[\w+-]+$/.test(name) ? `${n === 0 ? '' : '.'}${name}` : `[${JSON.stringify(name)}]`
  }
  return path.map(step).join('')
}

function at(input: unknown, path: readonly PropertyKey[]): unknown {
  let found: unknown = input
  for (const step of path)
    found =
      typeof found === 'object' && found !== null && Object.hasOwn(found, step) ? (found as Record<PropertyKey, unknown>)[step] : undefined
  return found
}

function shown(value: unknown): string {
  const text = typeof value === 'number' && !Number.isFinite(value) ? String(value) : (JSON.stringify(value) ?? String(value))
  return text.length > 60 ? `${text.slice(0, 57)}…` : text
}
