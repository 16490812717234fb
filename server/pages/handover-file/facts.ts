/** What the sections of the handover file are made from, and what of it may go along. */
import type { SolvedCircuit } from '../../engine/circuit-of.ts'
import { fieldsOf } from '../../engine/parts/index.ts'
import type { Report } from '../../engine/report.ts'
import type { VehicleDocument } from '../../engine/vehicle.ts'
import type { SavedEntry } from '../../records/contract.ts'
import type { Mask } from '../../records/masks.ts'
import type { Private } from '../../records/shares.ts'
import type { State } from '../../records/state.ts'
import type { ThenFound } from '../../records/then-found.ts'
import type { FuseBox } from '../shared/fuse-boxes.ts'
import { doubt, ratingWords } from '../shared/rating-words.ts'
import { terminalWords } from '../shared/wiring-words.ts'

/** What may be ticked, each by itself. Suppliers and places on the shelf never go along on paper. */
export const ON_PAPER = ['vin', 'plate', 'prices', 'names', 'addresses'] as const satisfies readonly Private[]
export type PaperField = (typeof ON_PAPER)[number]

/** The ticks, in words. */
export const TICKS: Readonly<Record<PaperField, string>> = {
  vin: 'VIN',
  plate: 'Plate',
  prices: 'What things cost',
  names: 'Names of people',
  addresses: 'Where it is kept, addresses',
}

/** A sheet of a drawing, as SVG in one colour, what is private already left out. */
export type DrawingSheet = { readonly title: string; readonly svg: string }

export type Facts = {
  readonly vehicle: { readonly id: string; readonly name: string; readonly odometer_km: number | null }
  readonly on: string
  readonly state: State
  readonly document: VehicleDocument
  readonly report: Report
  readonly circuit: SolvedCircuit
  readonly boxes: readonly FuseBox[]
  /** oldest first, those that stand */
  readonly entries: readonly SavedEntry[]
  /** what the check found altered by an entry, at the time */
  readonly thenFound: ReadonlyMap<string, ThenFound>
  /** the household's; empty where it has set none */
  readonly currency: string
  readonly drawings: readonly DrawingSheet[]
  readonly ticked: ReadonlySet<Private>
  readonly mask: Mask
}

/** A key is made from a name, which no mask finds in it: what is there no more is told without it. */
export function nameOf(facts: Pick<Facts, 'circuit'>, key: string): string {
  return facts.circuit.network.components.get(key)?.name ?? 'a component taken out since'
}

/** The components of those kinds, by name. */
export function byName(facts: Pick<Facts, 'circuit'>, ...kinds: readonly string[]): readonly string[] {
  return [...facts.circuit.componentsOf(...kinds)].sort((a, b) => inOrder.compare(nameOf(facts, a), nameOf(facts, b)))
}

const inOrder = new Intl.Collator('en', { numeric: true })

export function zoneOf(facts: Pick<Facts, 'circuit'>, key: string): string {
  return facts.circuit.zoneOf(key)?.name ?? 'place not recorded'
}

/** Every rating that the part states, each with its doubt: "make 40 A; coil 90 Ω (assumed)". Those of `but` are told elsewhere. */
export function ratingsOf(facts: Pick<Facts, 'circuit'>, key: string, but: readonly string[] = []): string {
  const part = facts.circuit.part(key)
  const told = fieldsOf(part.kind).flatMap((field) => {
    const value = part.ratings[field.name]
    if (value === undefined || but.includes(field.name)) return []
    return [
      `${field.label.charAt(0).toLowerCase()}${field.label.slice(1)} ${ratingWords(field, value)}${doubt(part.evidence?.[field.name])}`,
    ]
  })
  return told.length > 0 ? told.join('; ') : 'no figures recorded'
}

/** One rating with its doubt, or "not known". */
export function ratingOf(facts: Pick<Facts, 'circuit'>, key: string, rating: string): string {
  const part = facts.circuit.part(key)
  const field = fieldsOf(part.kind).find((one) => one.name === rating)
  const value = part.ratings[rating]
  return field === undefined || value === undefined ? 'not known' : `${ratingWords(field, value)}${doubt(part.evidence?.[rating])}`
}

/** "Relay R7 30": the component and its terminal. */
export function placeOf(facts: Pick<Facts, 'circuit'>, terminal: string): string {
  const at = terminal.indexOf(':')
  const key = terminal.slice(0, at)
  return terminalWords({ name: nameOf(facts, key), kind: facts.circuit.kindOf(key), terminal: terminal.slice(at + 1) })
}

/** "14 A for 0.002 s (typical)": two figures of one sense, their doubt told once where it is the same. */
export function together(first: string, between: string, second: string): string {
  const [, bare = first, mark = ''] = /^(.*?)( \((?:assumed|typical)\))$/.exec(first) ?? []
  return mark !== '' && second.endsWith(mark) ? `${bare}${between}${second}` : `${first}${between}${second}`
}
