/** A vehicle's state on a date: a pure fold of the journal's changes. A change applies or is a conflict; none is skipped. */
import type { Conflict, Given } from './changes/change-kind.ts'
import { changeKind } from './changes/index.ts'
import { isConflict } from './changes/wiring.ts'
import type { Actor, Change } from './contract.ts'
import type { Db } from './database.ts'
import type { Component, Condition, Join, VehicleFigures, Zone } from './engine-types.ts'
import { type EntryRow, kindsOfParts, lastRowId, liveEntries, vehicleRow } from './entry-rows.ts'
import { Lately } from './lately.ts'

export type Unfinished = {
  readonly key: string
  readonly components: readonly string[]
  readonly text: string
  readonly since: string
  readonly entryId: string
}
export type Due = {
  readonly key: string
  readonly component?: string
  readonly what: string
  readonly on?: string
  readonly odometer_km?: number
  readonly every_months?: number
  readonly every_km?: number
  readonly entryId: string
}

export type State = {
  readonly vehicle: VehicleFigures & Record<string, unknown>
  readonly zones: ReadonlyMap<string, Zone>
  readonly conditions: ReadonlyMap<string, Condition>
  readonly components: ReadonlyMap<string, Component>
  /** by the unordered pair of terminals */
  readonly joins: ReadonlyMap<string, Join>
  readonly unfinished: ReadonlyMap<string, Unfinished>
  readonly due: ReadonlyMap<string, Due>
  /** component → the date it, or its part, last changed */
  readonly fittedOn: ReadonlyMap<string, string>
}

export type FoldConflict = { readonly conflict: Conflict; readonly entryId: string; readonly change: number }

/** The state after every live entry dated up to and including `on` (all of them, if no date is given). */
export function stateOn(db: Db, actor: Actor, vehicleId: string, on?: string): State {
  const folded = foldedOf(db, actor, vehicleId)
  return stateIn(db, actor, { vehicleId, folded, count: on === undefined ? folded.days.length : countUpTo(folded.days, on) })
}

/** The state after the first so many live entries. Folded from the longest beginning that was asked for lately and still stands so. */
export function stateAfter(db: Db, actor: Actor, given: { readonly vehicleId: string; readonly count: number }): State {
  return stateIn(db, actor, { ...given, folded: foldedOf(db, actor, given.vehicleId) })
}

function stateIn(db: Db, actor: Actor, given: { readonly vehicleId: string; readonly folded: Folded; readonly count: number }): State {
  const { vehicleId, folded, count } = given
  const { states, start } = folded
  const known = states.get(count)
  if (known) return known
  const [from, begun] = longest(states, count) ?? [0, start]
  const rows = liveEntries(db, actor, vehicleId).slice(from, count)
  const state = fold(rows, undefined, { start: begun, kindOfPart: kindsOfParts(db, actor) })
  if ('conflict' in state) throw new Error(`the journal of ${vehicleId} does not fold at ${state.entryId}: ${state.conflict.sentence}`)
  if (states.size >= mostOfOne) states.delete(states.keys().next().value as number)
  states.set(count, state)
  keep(db, keyOf(actor, vehicleId), folded)
  return state
}

/** What was folded lately of a vehicle: it knows the entries by their ids, so that it holds no journal in memory. */
type Folded = {
  /** the row recorded last, of whatever sort */
  readonly lastId: string
  readonly start: State
  /** of the live entries, in the journal's order */
  readonly ids: readonly string[]
  readonly days: readonly string[]
  /** by how many live entries they come after */
  readonly states: Map<number, State>
}
const kept = new WeakMap<Db, Lately<Folded>>()
/** Components of all states together: some five megabytes. */
const mostComponents = 50_000
const mostOfOne = 50

function keptOf(db: Db): Lately<Folded> {
  const mine = kept.get(db) ?? new Lately<Folded>(mostComponents)
  kept.set(db, mine)
  return mine
}

/** Of what was folded before, that which begins as the journal still does: an entry that stands says what it said. */
function foldedOf(db: Db, actor: Actor, vehicleId: string): Folded {
  const vehicle = vehicleRow(db, actor, vehicleId)
  if (!vehicle) throw new Error(`no vehicle ${vehicleId}`)
  const start = emptyState(vehicle)
  const lastId = lastRowId(db, actor, vehicleId)
  const found = keptOf(db).get(keyOf(actor, vehicleId))
  const before = found && isSameStart(found.start, start) ? found : undefined
  if (before?.lastId === lastId) return before
  const live = liveEntries(db, actor, vehicleId)
  let same = 0
  while (before && same < before.ids.length && before.ids[same] === live[same]?.id) same += 1
  const states = new Map([...(before?.states ?? [])].filter(([count]) => count <= same))
  const folded = { lastId, start, ids: live.map((row) => row.id), days: live.map((row) => row.effectiveOn), states }
  keep(db, keyOf(actor, vehicleId), folded)
  return folded
}

function keep(db: Db, key: string, folded: Folded): void {
  keptOf(db).set(key, folded, weightOf(folded))
}

function weightOf({ ids, states }: Folded): number {
  return [...states.values()].reduce((sum, state) => sum + state.components.size, 1 + Math.ceil(ids.length / 10))
}

function keyOf(actor: Actor, vehicleId: string): string {
  return `${actor.householdId} ${vehicleId}`
}

function isSameStart(a: State, b: State): boolean {
  return a.vehicle.name === b.vehicle.name && a.vehicle.systemVoltage_V === b.vehicle.systemVoltage_V
}

function longest(states: ReadonlyMap<number, State>, count: number): readonly [number, State] | undefined {
  let best: readonly [number, State] | undefined
  for (const one of states) if (one[0] <= count && one[0] > (best?.[0] ?? -1)) best = one
  return best
}

/** How many days, in their order, are up to and including one. */
function countUpTo(days: readonly string[], on: string): number {
  let [low, high] = [0, days.length]
  while (low < high) {
    const middle = (low + high) >> 1
    if ((days[middle] as string) <= on) low = middle + 1
    else high = middle
  }
  return low
}

/** `entries` in the journal's order. */
export function fold(
  entries: readonly Pick<EntryRow, 'id' | 'effectiveOn' | 'odometer_km' | 'changes'>[],
  on: string | undefined,
  from: { readonly start: State; readonly kindOfPart: Given['kindOfPart'] },
): State | FoldConflict {
  let state = from.start
  for (const entry of entries) {
    if (on !== undefined && entry.effectiveOn > on) break
    const { id: entryId, effectiveOn, odometer_km } = entry
    const given = { entryId, effectiveOn, odometer_km, kindOfPart: from.kindOfPart }
    for (const [index, change] of entry.changes.entries()) {
      const next = applyChange(state, change, given)
      if (isConflict(next)) return { conflict: next, entryId: entry.id, change: index }
      state = next
    }
  }
  return state
}

export function applyChange(state: State, change: Change, given: Given): State | Conflict {
  const { kind, ...payload } = change
  const known = changeKind(kind)
  return known ? known.apply(state, payload, given) : { sentence: `There is no kind of change called "${kind}".` }
}

export function emptyState(vehicle: VehicleFigures): State {
  const empty = new Map<string, never>()
  return {
    vehicle: { name: vehicle.name, systemVoltage_V: vehicle.systemVoltage_V },
    zones: empty,
    conditions: empty,
    components: empty,
    joins: empty,
    unfinished: empty,
    due: empty,
    fittedOn: empty,
  }
}
