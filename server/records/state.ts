/** A vehicle's state on a date: a pure fold of the journal's changes. A change applies or is a conflict; none is skipped. */
import type { Conflict, Given } from './changes/change-kind.ts'
import { changeKind } from './changes/index.ts'
import { isConflict } from './changes/wiring.ts'
import type { Actor, Change } from './contract.ts'
import type { Db } from './database.ts'
import type { Component, Condition, Join, VehicleFigures, Zone } from './engine-types.ts'
import { type EntryRow, kindsOfParts, liveEntries, vehicleRow } from './entry-rows.ts'
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
  const live = liveEntries(db, actor, vehicleId)
  return stateAfter(db, actor, { vehicleId, count: on === undefined ? live.length : countUpTo(live, on) })
}

/** The state after the first so many live entries. Folded from the longest beginning that was asked for lately and still stands so. */
export function stateAfter(db: Db, actor: Actor, given: { readonly vehicleId: string; readonly count: number }): State {
  const { vehicleId, count } = given
  const vehicle = vehicleRow(db, actor, vehicleId)
  if (!vehicle) throw new Error(`no vehicle ${vehicleId}`)
  const live = liveEntries(db, actor, vehicleId)
  const start = emptyState(vehicle)
  const key = `${actor.householdId} ${vehicleId}`
  const mine = kept.get(db) ?? new Lately<Folded>(mostKept)
  kept.set(db, mine)
  const folded = foldedOf(mine.get(key), { live, start })
  const known = folded.states.get(count)
  if (known) return known
  const [from, begun] = longest(folded.states, count) ?? [0, start]
  const state = fold(live.slice(from, count), undefined, { start: begun, kindOfPart: kindsOfParts(db, actor) })
  if ('conflict' in state) throw new Error(`the journal of ${vehicleId} does not fold at ${state.entryId}: ${state.conflict.sentence}`)
  if (folded.states.size >= mostOfOne) folded.states.delete(folded.states.keys().next().value as number)
  folded.states.set(count, state)
  mine.set(key, folded, folded.states.size)
  return state
}

/** States by how many live entries they come after. */
type Folded = { readonly live: readonly EntryRow[]; readonly start: State; readonly states: Map<number, State> }
const kept = new WeakMap<Db, Lately<Folded>>()
const mostKept = 1000
const mostOfOne = 50

/** Of what was folded before, that which begins as the journal still does. An entry's row is the same object as long as it stands unaltered. */
function foldedOf(before: Folded | undefined, now: { readonly live: readonly EntryRow[]; readonly start: State }): Folded {
  if (before?.live === now.live && isSameStart(before.start, now.start)) return before
  if (!before || !isSameStart(before.start, now.start)) return { ...now, states: new Map() }
  let shared = 0
  while (shared < before.live.length && before.live[shared] === now.live[shared]) shared += 1
  return { ...now, states: new Map([...before.states].filter(([count]) => count <= shared)) }
}

function isSameStart(a: State, b: State): boolean {
  return a.vehicle.name === b.vehicle.name && a.vehicle.systemVoltage_V === b.vehicle.systemVoltage_V
}

function longest(states: ReadonlyMap<number, State>, count: number): readonly [number, State] | undefined {
  let best: readonly [number, State] | undefined
  for (const one of states) if (one[0] <= count && one[0] > (best?.[0] ?? -1)) best = one
  return best
}

/** How many of the entries, in the journal's order, are dated up to and including a day. */
function countUpTo(live: readonly EntryRow[], on: string): number {
  let [low, high] = [0, live.length]
  while (low < high) {
    const middle = (low + high) >> 1
    if ((live[middle] as EntryRow).effectiveOn <= on) low = middle + 1
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
