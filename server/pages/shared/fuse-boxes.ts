/** What the fuse charts and the handover file say of each fuse and breaker. */
import type { Circuit } from '../../engine/circuit.ts'
import { type Protected, protectedBy } from '../../engine/protected-by.ts'
import { fuseColour } from '../../engine/tables/fuse-colours.ts'
import { figure } from '../../web/format.ts'
import { doubt } from './rating-words.ts'

export type FuseRow = {
  readonly name: string
  /** as written on the box; its name where none is recorded */
  readonly position: string
  /** "type C blade", "circuit breaker" */
  readonly form: string
  /** "15 A", "15 A (assumed)", "not known" */
  readonly rating: string
  /** the body's colour by the published code; "" where none is published or the form is not known */
  readonly colour: string
  readonly colourSource: string
  /** every load, relay coil and further fuse; one text each, the most telling first */
  readonly feeds: readonly string[]
  /** "2.5 mm²", and how many wires are of unknown size */
  readonly wire: string
  readonly breaking: string
  readonly clears: string
  /** how many of the same part lie on the shelf, or "none" */
  readonly spare: string
}
export type FuseBox = {
  /** the component that feeds it; "-": the fuses that sit in their lines, in no box */
  readonly key: string
  readonly name: string
  /** "14 ways, 12 in use", or nothing */
  readonly ways: string
  readonly rows: readonly FuseRow[]
}

export const IN_LINE = '-'

const FORMS: Readonly<Record<string, string>> = {
  C: 'blade, type C',
  E: 'large blade, type E',
  F: 'small blade, type F',
  A1: 'cartridge, type A1',
  SF30: 'strip, SF 30',
  SF51: 'strip, SF 51',
  'single-bolt': 'single bolt',
  glass: 'glass',
  'class-T': 'class T',
  link: 'fusible link',
}
const byNumber = new Intl.Collator('en', { numeric: true })

/** Boxes by name, then what sits in no box, each with its fuses and breakers in the document's order. */
export function boxesOf(circuit: Circuit): readonly (Omit<FuseBox, 'rows'> & { readonly devices: readonly string[] })[] {
  const boxes = new Map<string, string[]>()
  for (const device of circuit.componentsOf('fuse', 'breaker')) {
    const box = boxOf(circuit, device) ?? IN_LINE
    boxes.set(box, [...(boxes.get(box) ?? []), device])
  }
  return [...boxes]
    .map(([key, devices]) => ({
      key,
      name: key === IN_LINE ? 'In line, in no box' : circuit.component(key).name,
      ways: key === IN_LINE ? '' : waysOf(circuit, key),
      devices,
    }))
    .sort((a, b) => (a.key === IN_LINE ? 1 : b.key === IN_LINE ? -1 : byNumber.compare(a.name, b.name)))
}

/** What each of them says. `spares` counts a part on the shelf. */
export function fuseBoxesOf(circuit: Circuit, spares: (part: string) => number): readonly FuseBox[] {
  const behind = new Map(protectedBy(circuit).map((one) => [one.device, one]))
  return boxesOf(circuit).map(({ devices, ...box }) => ({
    ...box,
    rows: devices
      .map((device) => rowOf(circuit, behind.get(device) as Protected, spares))
      .sort((a, b) => byNumber.compare(a.position, b.position)),
  }))
}

/** Where the sources of the colours named in these rows stand, each once. */
export function colourSources(rows: readonly FuseRow[]): string {
  return [...new Set(rows.map((row) => row.colourSource).filter((source) => source !== ''))].join('; ')
}

/** A fuse sits in the block that its feed side is joined to with no wire between. */
function boxOf(circuit: Circuit, device: string): string | null {
  for (const { own, other } of circuit.joinsOf(device)) {
    const beside = other.slice(0, other.indexOf(':'))
    if (own === `${device}:in` && ['block', 'splice'].includes(circuit.kindOf(beside))) return beside
  }
  return null
}

function waysOf(circuit: Circuit, block: string): string {
  const ways = circuit.rawRating(block, 'ways')
  const used = circuit.waysOf(block).length
  if (typeof ways !== 'number') return `${used} terminals in use`
  // Studs for the feed are often not counted among the ways.
  return used <= ways ? `${ways} ways, ${used} in use` : `${ways} ways, ${used} terminals in use`
}

function rowOf(circuit: Circuit, one: Protected, spares: (part: string) => number): FuseRow {
  const component = circuit.component(one.device)
  const part = circuit.part(one.device)
  const form = circuit.rawRating(one.device, 'form')
  const rated_A = circuit.rawRating(one.device, 'rated_A')
  const colour = typeof form === 'string' && typeof rated_A === 'number' ? fuseColour(form, rated_A) : null
  return {
    name: component.name,
    position: component.position ?? component.name,
    form:
      part.kind === 'breaker'
        ? 'circuit breaker'
        : typeof form === 'string'
          ? `${FORMS[form] ?? form}${doubt(part.evidence?.form)}`
          : 'form not recorded',
    rating: typeof rated_A === 'number' ? `${figure(rated_A, 'A')}${doubt(part.evidence?.rated_A)}` : 'not known',
    colour: colour?.colour ?? '',
    colourSource: colour ? `${colour.source}${colour.grade === 'memory' ? ' (not checked against a copy)' : ''}` : '',
    feeds: feedsOf(circuit, one),
    wire: wireOf(one),
    breaking: breakingOf(circuit, one.device),
    clears: clearsOf(circuit, one),
    spare: spares(part.key) === 0 ? 'none' : String(spares(part.key)),
  }
}

function feedsOf(circuit: Circuit, one: Protected): readonly string[] {
  const name = (key: string) => circuit.component(key).name
  const isLoad = (key: string) => ['load', 'pump'].includes(circuit.kindOf(key))
  const parts = one.parts.length > 1 ? [`link between ${one.parts.map(name).join(' and ')}`] : []
  const loads = one.loads.filter(isLoad).map(name)
  const coils = one.loads.filter((key) => !isLoad(key)).map((key) => `coil of ${name(key)}`)
  // What parts two batteries is itself seen from both: what follows on either side is not its own.
  const devices = one.parts.length > 1 ? [] : one.devices.map(name).sort(byNumber.compare)
  const all = [...parts, ...loads, ...coils, ...devices]
  return all.length > 0 ? all : ['nothing recorded']
}

function wireOf(one: Protected): string {
  const unsized = one.unsized.length === 0 ? '' : `${one.unsized.length} of unknown size`
  if (one.smallest) return [figure(one.smallest.crossSection_mm2, 'mm2'), unsized].filter((part) => part !== '').join(', ')
  return unsized === '' ? 'none recorded' : 'not known'
}

function breakingOf(circuit: Circuit, device: string): string {
  const value = circuit.rawRating(device, 'breaking_A')
  return typeof value === 'number' ? `${figure(value, 'A')}${doubt(circuit.part(device).evidence?.breaking_A)}` : 'not known'
}

function clearsOf(circuit: Circuit, one: Protected): string {
  if (one.conductors.length === 0) return 'no wire recorded behind it'
  if (one.clearing_s !== null) return `within ${figure(one.clearing_s, 's')}`
  const names = one.notSure.slice(0, 3).map((key) => circuit.component(key).name)
  const more = one.notSure.length > names.length ? ` and ${one.notSure.length - names.length} more` : ''
  return `not sure for ${names.join('; ')}${more}`
}
