/** A vehicle's state on a date: a pure fold of the journal's changes. A change applies or is a conflict; none is skipped. */
import type { Conflict, Given } from './changes/change-kind.ts'
import { changeKind } from './changes/index.ts'
import { isConflict } from './changes/wiring.ts'
import type { Actor, Change } from './contract.ts'
import type { Db } from './database.ts'
import type { Component, Condition, Join, VehicleFigures, Zone } from './engine-types.ts'
import { type EntryRow, kindsOfParts, liveEntries, vehicleRow } from './entry-rows.ts'

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
  const vehicle = vehicleRow(db, actor, vehicleId)
  if (!vehicle) throw new Error(`no vehicle ${vehicleId}`)
  const live = liveEntries(db, actor, vehicleId)
  const states = kept.get(live) ?? new Map<string, State>()
  kept.set(live, states)
  const before = states.get(on ?? '')
  if (before) return before
  const folded = fold(live, on, { start: emptyState(vehicle), kindOfPart: kindsOfParts(db, actor) })
  if ('conflict' in folded) throw new Error(`the journal of ${vehicleId} does not fold at ${folded.entryId}: ${folded.conflict.sentence}`)
  if (states.size >= mostKept) states.clear()
  states.set(on ?? '', folded)
  return folded
}

/** States of the dates asked for lately, as long as the list of entries they were folded from is the one in force. */
const kept = new WeakMap<readonly EntryRow[], Map<string, State>>()
const mostKept = 50

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
