/** Past 200 lines, for its sentences. Walking a fuse box: each position is made into a fuse, its wire and one load for all behind it. */

import type { Expanded, ProvisionalPart } from './chain.ts'
import { componentOf } from './changes/wiring.ts'
import type { Clock } from './clock.ts'
import { slugOf } from './component-key.ts'
import type { Actor, Change, Refusal, Result, SavedEntry } from './contract.ts'
import type { Db } from './database.ts'
import type { Component, Part, Ratings } from './engine-types.ts'
import { type EntryHeading, type Expand, previewExpanded, recordExpanded, type TriedChain } from './journal.ts'
import type { NewPart } from './parts.ts'
import { refusal } from './refusals.ts'
import { knownBehind_A, restKeyOf, restPart } from './rest.ts'
import type { State } from './state.ts'

export type FuseBoxRow = {
  /** "F3" */
  readonly position: string
  /** null: the fuse's figure could not be read */
  readonly rating_A: number | null
  /** what the lid says is behind it */
  readonly says: string
  /** null: not known */
  readonly crossSection_mm2: number | null
  /** a clamp meter's reading of all behind the fuse; null: none was taken */
  readonly reading_A: number | null
}
export type FuseBox = {
  /** the component that feeds the fuses: a block, usually */
  readonly box: string
  /** where the loads return to, as component:terminal; null: not known */
  readonly groundTo: string | null
  readonly zone?: string | undefined
  readonly rows: readonly FuseBoxRow[]
}

/** A position already recorded keeps its fuse: only the reading and the rest are added to it. */
export function expandFuseBox(given: {
  readonly state: State
  readonly parts: ReadonlyMap<string, Part>
  readonly taken: ReadonlySet<string>
  readonly fuseBox: FuseBox
}): Expanded {
  const { state, parts, fuseBox } = given
  const refusals: Refusal[] = []
  const refuse = (field: string, sentence: string): void => void refusals.push(refusal('not-valid', sentence, { field }))
  if (!state.components.has(fuseBox.box)) refuse('box', 'Choose the block that feeds these fuses.')
  if (fuseBox.groundTo !== null && !state.components.has(componentOf(fuseBox.groundTo)))
    refuse('groundTo', 'Choose where the loads return to, or leave it not known.')
  if (fuseBox.rows.length === 0) refuse('rows', 'Enter at least one position.')
  const shelf = shelfOf(parts)
  const changes: Change[] = []
  const positions = new Set<string>()
  for (const [index, row] of fuseBox.rows.entries()) {
    const field = `rows.${index}`
    const faults = faultsOfRow(row, field)
    refusals.push(...faults)
    const position = slugOf(row.position)
    if (positions.has(position)) refuse(`${field}.position`, `${row.position.trim()} is entered twice.`)
    positions.add(position)
    if (faults.length > 0) continue
    const standing = state.components.get(position)
    if (standing && parts.get(standing.part)?.kind === 'fuse')
      changes.push(...readAgain({ state, parts, shelf, fuse: standing, row, field, refuse, groundTo: fuseBox.groundTo }))
    else if ([position, `${position}-wire`, restKeyOf(position)].some((key) => state.components.has(key) || given.taken.has(key))) {
      refuse(`${field}.position`, `${row.position.trim()} is a name this vehicle already uses for something else.`)
    } else changes.push(...newPosition({ fuseBox, row, position, shelf }))
  }
  return refusals.length > 0 ? { ok: false, refusals } : { ok: true, changes, newParts: shelf.made }
}

export function recordFuseBox(db: Db, clock: Clock, actor: Actor, given: EntryHeading & { readonly fuseBox: FuseBox }): Result<SavedEntry> {
  const { fuseBox, ...heading } = given
  return recordExpanded(db, clock, actor, heading, expanding(fuseBox))
}

export function previewFuseBox(db: Db, actor: Actor, given: EntryHeading & { readonly fuseBox: FuseBox }): Result<TriedChain> {
  const { fuseBox, ...heading } = given
  return previewExpanded(db, actor, heading, expanding(fuseBox))
}

function expanding(fuseBox: FuseBox): Expand {
  return (known) => expandFuseBox({ ...known, fuseBox })
}

function faultsOfRow(row: FuseBoxRow, field: string): readonly Refusal[] {
  const faults: Refusal[] = []
  const bad = (name: string, sentence: string): void => void faults.push(refusal('not-valid', sentence, { field: `${field}.${name}` }))
  const position = row.position.trim()
  if (position.length < 1 || position.length > 40) bad('position', 'Give the position a name, such as F3.')
  if (row.says.length > 60) bad('says', 'Keep what the lid says under 60 letters.')
  if (row.rating_A !== null && !(row.rating_A > 0 && row.rating_A <= 1000)) bad('rating_A', 'Give a rating above 0 A and up to 1000 A.')
  if (row.crossSection_mm2 !== null && !(row.crossSection_mm2 > 0 && row.crossSection_mm2 <= 500))
    bad('crossSection_mm2', 'Give a cross-section above 0 mm² and up to 500 mm², or leave it not known.')
  if (row.reading_A !== null && !(row.reading_A >= 0 && row.reading_A <= 1000))
    bad('reading_A', 'Give a reading from 0 A to 1000 A, or none.')
  return faults
}

type Shelf = { readonly made: ProvisionalPart[]; idOf(part: NewPart): string }

/** A part the vehicle's shelf already has, the same in kind, name and every figure, is used again. */
function shelfOf(parts: ReadonlyMap<string, Part>): Shelf {
  const told = (kind: string, name: string, ratings: Ratings): string =>
    JSON.stringify([kind, name, Object.entries(ratings).sort(([a], [b]) => (a < b ? -1 : 1))])
  const known = new Map([...parts].map(([id, part]) => [told(part.kind, part.name, part.ratings), id]))
  const made: ProvisionalPart[] = []
  return {
    made,
    idOf(part) {
      const key = told(part.kind, part.name, part.ratings)
      const same = known.get(key)
      if (same !== undefined) return same
      const id = `new-${made.length + 1}`
      made.push({ ...part, id })
      known.set(key, id)
      return id
    },
  }
}

function newPosition(given: {
  readonly fuseBox: FuseBox
  readonly row: FuseBoxRow
  readonly position: string
  readonly shelf: Shelf
}): Change[] {
  const { fuseBox, row, position, shelf } = given
  const label = row.position.trim()
  const rest = restKeyOf(position)
  const wire = `${position}-wire`
  const zone = fuseBox.zone === undefined ? {} : { zone: fuseBox.zone }
  const says = row.says.trim()
  const fitted: Component[] = [
    { key: position, name: says === '' ? label : `${label} ${says}`, part: shelf.idOf(fusePart(row.rating_A)), position: label, ...zone },
    { key: wire, name: `${label} wire`, part: shelf.idOf(wirePart(row.crossSection_mm2)) },
    { key: rest, name: `Rest of ${label}`, part: shelf.idOf(restPart('', label, row.reading_A)) },
  ]
  return [
    ...fitted.map((component) => ({ kind: 'fitted', component }) as const),
    { kind: 'joined', from: `${fuseBox.box}:${position}`, to: `${position}:in` },
    { kind: 'joined', from: `${position}:out`, to: `${wire}:a` },
    { kind: 'joined', from: `${wire}:b`, to: `${rest}:+` },
    ...(fuseBox.groundTo === null ? [] : [{ kind: 'joined', from: `${rest}:-`, to: fuseBox.groundTo } as const]),
    ...readingOf(position, row.reading_A),
  ]
}

/** A new reading of a fuse that is there: its rest becomes the reading less the loads known behind it. */
function readAgain(given: {
  readonly state: State
  readonly parts: ReadonlyMap<string, Part>
  readonly shelf: Shelf
  readonly fuse: Component
  readonly row: FuseBoxRow
  readonly field: string
  readonly refuse: (field: string, sentence: string) => void
  readonly groundTo: string | null
}): Change[] {
  const { state, parts, shelf, fuse, row } = given
  const rating = parts.get(fuse.part)?.ratings.rated_A
  const label = row.position.trim()
  if (row.rating_A !== null && rating !== row.rating_A) {
    given.refuse(
      `${given.field}.rating_A`,
      `${fuse.name} is recorded as ${typeof rating === 'number' ? `${rating} A` : 'of unknown rating'}. Log the swap of the fuse, or correct its part.`,
    )
    return []
  }
  if (row.reading_A === null) return []
  const known_A = knownBehind_A(state, parts, fuse.key)
  const rest_A = known_A === null ? null : Math.round((row.reading_A - known_A) * 1e6) / 1e6
  if (rest_A !== null && rest_A < 0) {
    given.refuse(
      `${given.field}.reading_A`,
      `The loads known behind ${fuse.name} take ${known_A} A, and the reading is ${row.reading_A} A: were they all on? Read it again with everything on.`,
    )
    return []
  }
  const rest = restKeyOf(fuse.key)
  const part = shelf.idOf(restPart('', label, rest_A))
  const change: Change[] = state.components.has(rest)
    ? [{ kind: 'swapped', component: rest, part, fate: 'not said' }]
    : [
        { kind: 'fitted', component: { key: rest, name: `Rest of ${label}`, part } },
        { kind: 'joined', from: `${fuse.key}:out`, to: `${rest}:+` },
        ...(given.groundTo === null ? [] : [{ kind: 'joined', from: `${rest}:-`, to: given.groundTo } as const]),
      ]
  return [...change, ...readingOf(fuse.key, row.reading_A)]
}

function readingOf(fuse: string, reading_A: number | null): Change[] {
  return reading_A === null ? [] : [{ kind: 'measured', at: fuse, quantity: 'current', value: reading_A }]
}

function fusePart(rating_A: number | null): NewPart {
  if (rating_A === null) return { kind: 'fuse', name: 'Fuse, rating not known', ratings: {} }
  return { kind: 'fuse', name: `${rating_A} A fuse`, ratings: { rated_A: rating_A }, evidence: { rated_A: 'marked' } }
}

function wirePart(crossSection_mm2: number | null): NewPart {
  if (crossSection_mm2 === null) return { kind: 'conductor', name: 'Wire, size not known', ratings: {} }
  return {
    kind: 'conductor',
    name: `${crossSection_mm2} mm² wire`,
    ratings: { crossSection_mm2 },
    evidence: { crossSection_mm2: 'measured' },
  }
}
