/** Everything that happened to one component, in the journal's order, as the journal stands now. Pure but for what it reads. */
import { componentName } from './component-name.ts'
import type { Actor, Change, Fate } from './contract.ts'
import type { Db } from './database.ts'
import type { Finding } from './engine-types.ts'
import { entriesThatName, liveEntries, type Turned, turnedBy } from './entry-rows.ts'
import { touches } from './journal.ts'
import { partsById } from './part-rows.ts'
import { tellSome } from './sentences.ts'

export type LifeEvent = {
  readonly entryId: string
  readonly on: string
  readonly recordedAt: string
  readonly author: string
  readonly title: string
  /** what is read here is a later version of the entry */
  readonly corrected: boolean
  readonly kinds: readonly Change['kind'][]
  /** what was done to it, a sentence for each change; empty where only its findings turned */
  readonly says: readonly string[]
  /** what was set anew: length, zone and whatever else it carries */
  readonly details: readonly { readonly field: string; readonly value: unknown }[]
  /** by being fitted, swapped or removed; `null`: no part */
  readonly part: { readonly was: PartName | null; readonly now: PartName | null; readonly fate: Fate | null } | null
  /** of this component, not clear, as shown when the entry was saved */
  readonly findings: readonly Finding[]
  /** that this entry cleared, as they had been */
  readonly cleared: readonly Finding[]
}
export type PartName = { readonly id: string; readonly name: string }
export type Life = {
  readonly key: string
  readonly name: string
  readonly formerNames: readonly string[]
  readonly isFitted: boolean
  readonly fittings: readonly { readonly from: string; readonly until: string | null }[]
  /** oldest first */
  readonly events: readonly LifeEvent[]
}

/** Null where no entry that counts ever fitted it; with `until`, none of up to that day. */
export function lifeOf(db: Db, actor: Actor, vehicleId: string, key: string, until?: string): Life | null {
  const rows = liveEntries(db, actor, vehicleId).filter((row) => until === undefined || row.effectiveOn <= until)
  const parts = partsById(db, actor)
  const partName = (id: string): PartName => ({ id, name: parts.get(id)?.name ?? 'a part' })
  const names: string[] = []
  const fittings: { from: string; until: string | null }[] = []
  const open = new Set<string>()
  const ids = rows.map((row) => row.id)
  const mentions = entriesThatName(db, actor, vehicleId, key)
  const whole = rows.flatMap((row) => (mentions.has(row.id) || row.changes.some(mayEnd) ? [row.id] : []))
  const turned = turnedBy(db, actor, { vehicleId, component: key, whole })
  const turning = [...turned].flatMap(([id, { appeared, cleared }]) => (appeared.length + cleared.length > 0 ? [id] : []))
  const concerned = new Set([...whole, ...turning])
  const entries = tellSome(db, actor, { vehicleId, ids: ids.filter((id) => concerned.has(id)) })
  const events: LifeEvent[] = []
  let held: string | null = null
  for (const { row: entry, sentences } of entries) {
    const about = entry.changes.map((change, index) => ({ change, says: sentences[index] ?? change.kind }))
    const mine = about.filter(({ change }) => isAbout(change, key, open))
    let part: LifeEvent['part'] = null
    for (const { change } of mine) {
      const name = nameIn(change)
      if (name !== undefined && names.at(-1) !== name) names.push(name)
      const next = partIn(change)
      if (next === undefined) continue
      part = {
        was: held === null ? null : partName(held),
        now: next === null ? null : partName(next),
        fate: 'fate' in change ? change.fate : null,
      }
      held = next
      if (change.kind === 'fitted') fittings.push({ from: entry.effectiveOn, until: null })
      const last = fittings.at(-1)
      if (change.kind === 'removed' && last) last.until = entry.effectiveOn
    }
    const shown = shownOf(turned.get(entry.id), mine.length > 0)
    if (mine.length === 0 && shown.findings.length === 0 && shown.cleared.length === 0) continue
    events.push({
      entryId: entry.id,
      on: entry.effectiveOn,
      recordedAt: entry.recordedAt,
      author: entry.author,
      title: entry.title,
      corrected: entry.correction === 'replaced',
      kinds: mine.map(({ change }) => change.kind),
      says: mine.map(({ says }) => says),
      details: mine.flatMap(({ change }) => detailsIn(change)),
      part,
      ...shown,
    })
  }
  const name = names.at(-1)
  if (name === undefined || fittings.length === 0) return null
  const formerNames = [...new Set(names)].filter((one) => one !== name)
  return { key, name, formerNames, isFitted: held !== null, fittings, events }
}

/** What it is or was called; null where no entry that counts ever fitted it. */
export function nameOfComponent(db: Db, actor: Actor, vehicleId: string, key: string): string | null {
  const entries = liveEntries(db, actor, vehicleId)
  const wasFitted = entries.some((entry) => entry.changes.some((change) => change.kind === 'fitted' && change.component.key === key))
  return wasFitted ? componentName(entries, key) : null
}

/** It names no component: what it ends may be any one's. */
function mayEnd(change: Change): boolean {
  return change.kind === 'finished' || change.kind === 'due-done'
}

/** What is finished or looked at names only its own key: `open` remembers which of these are this component's. */
function isAbout(change: Change, key: string, open: Set<string>): boolean {
  if (change.kind === 'finished' || change.kind === 'due-done') return open.has(`${change.kind} ${change.key}`)
  if (!touches(change, key)) return false
  if (change.kind === 'unfinished') open.add(`finished ${change.key}`)
  if (change.kind === 'due-set') open.add(`due-done ${change.key}`)
  return true
}

function nameIn(change: Change): string | undefined {
  if (change.kind === 'fitted') return change.component.name
  if (change.kind === 'renamed') return change.name
  return change.kind === 'described' ? change.component?.name : undefined
}

/** The part it holds after the change; null: none; undefined: the same as before. */
function partIn(change: Change): string | null | undefined {
  if (change.kind === 'fitted') return change.component.part
  if (change.kind === 'swapped') return change.part
  return change.kind === 'removed' ? null : undefined
}

function detailsIn(change: Change): readonly { readonly field: string; readonly value: unknown }[] {
  const set = change.kind === 'fitted' || change.kind === 'described' ? change.component : change.kind === 'rerouted' ? change : undefined
  const cleared = change.kind === 'described' ? (change.cleared ?? []) : []
  const said = Object.entries(set ?? {})
    .filter(([field, value]) => !['kind', 'key', 'name', 'part', 'component'].includes(field) && value !== undefined)
    .map(([field, value]) => ({ field, value: value as unknown }))
  return [...said, ...cleared.map((field) => ({ field, value: null }))]
}

/** An entry that did something else may still have turned its findings: then only what turned is said. */
function shownOf(turned: Turned | undefined, wasTouched: boolean): Pick<LifeEvent, 'findings' | 'cleared'> {
  if (!turned) return { findings: [], cleared: [] }
  return { findings: wasTouched ? turned.findings : turned.appeared, cleared: turned.cleared }
}
