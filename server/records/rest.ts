/**
 * The rest of a fuse: one load that stands for what a reading found behind it and nobody has named yet.
 * A load that was part of the reading comes out of the rest when it is named; a load that is new adds to it.
 */
import { type Chain, type Expanded, type ProvisionalPart, type Web, waysThrough, webOf } from './chain.ts'
import { componentOf, terminalNameOf } from './changes/wiring.ts'
import type { Change } from './contract.ts'
import type { Part, Ratings } from './engine-types.ts'
import { refusal } from './refusals.ts'
import type { State } from './state.ts'

export type Rest = { readonly fuse: string; readonly rest: string; readonly rest_A: number | null }

export function restKeyOf(fuse: string): string {
  return `rest-of-${fuse}`
}

/** The fuse with a rest that a place hangs behind, if there is one; of several, the nearest. */
export function restOf(state: State, parts: ReadonlyMap<string, Part>, place: string): Rest | null {
  const web = webOf(state)
  const at = componentOf(place)
  let found: { readonly fuse: string; readonly size: number } | null = null
  for (const fuse of state.components.keys()) {
    if (!state.components.has(restKeyOf(fuse))) continue
    const hung = behind(state, parts, web, fuse)
    const isBehind = hung.has(at) || place === `${fuse}:out`
    if (isBehind && (found === null || hung.size < found.size)) found = { fuse, size: hung.size }
  }
  if (found === null) return null
  const rest = restKeyOf(found.fuse)
  const current = parts.get(state.components.get(rest)?.part ?? '')?.ratings.current_A
  return { fuse: found.fuse, rest, rest_A: typeof current === 'number' ? current : null }
}

/** Lessens the rest by the loads of a chain that says they were in it. */
export function takeFromRest(given: {
  readonly state: State
  readonly parts: ReadonlyMap<string, Part>
  readonly chain: Chain
  readonly expanded: Expanded
}): Expanded {
  const { state, parts, chain, expanded } = given
  if (!expanded.ok || !chain.inRest) return expanded
  const rest = restOf(state, parts, chain.from)
  if (!rest)
    return {
      ok: false,
      refusals: [
        refusal('chain-not-valid', 'No fuse before this place has been read, so there is no rest to take this from.', { field: 'inRest' }),
      ],
    }
  const news = new Map(expanded.newParts.map((part) => [part.id, part]))
  const currents = expanded.changes.flatMap((change) => {
    if (change.kind !== 'fitted') return []
    const part = news.get(change.component.part) ?? parts.get(change.component.part)
    return part && isLoad(part.kind) ? [currentOf(part.ratings, systemVoltage(state))] : []
  })
  const named_A = sumKnown(currents)
  if (rest.rest_A === null || named_A === 0) return expanded
  const left_A = tidy(rest.rest_A - named_A)
  const fuse = state.components.get(rest.fuse)?.name ?? rest.fuse
  if (left_A < 0) {
    const sentence = `Only ${rest.rest_A} A behind ${fuse} is not named yet, and this takes ${named_A} A. Read the current again, or say that the load is new.`
    return { ok: false, refusals: [refusal('rest-too-small', sentence, { field: 'inRest' })] }
  }
  const part = restPart(`new-${expanded.newParts.length + 1}`, fuse, left_A)
  const swap: Change = { kind: 'swapped', component: rest.rest, part: part.id, fate: 'not said' }
  return { ok: true, changes: [...expanded.changes, swap], newParts: [...expanded.newParts, part] }
}

/** Stands for loads nobody has named; its current is null where nothing was read or too little is known. */
export function restPart(id: string, fuse: string, current_A: number | null): ProvisionalPart {
  return {
    id,
    kind: 'load',
    name: `Rest of ${fuse}${current_A === null ? '' : `, ${current_A} A`}`,
    ratings: { behaviour: 'current', ...(current_A === null ? {} : { current_A }) },
    evidence: { behaviour: 'assumed', ...(current_A === null ? {} : { current_A: 'measured' }) },
  }
}

/** What the loads behind a fuse take, without its rest; null: one of them takes a current nobody knows. */
export function knownBehind_A(state: State, parts: ReadonlyMap<string, Part>, fuse: string): number | null {
  const currents = [...behind(state, parts, webOf(state), fuse)].flatMap((key) => {
    const part = parts.get(state.components.get(key)?.part ?? '')
    return part && isLoad(part.kind) && key !== restKeyOf(fuse) ? [currentOf(part.ratings, systemVoltage(state))] : []
  })
  return currents.includes(null) ? null : tidy(sumKnown(currents))
}

/** Everything that current out of the fuse can reach before it is back on the body or at a source. */
function behind(state: State, parts: ReadonlyMap<string, Part>, web: Web, fuse: string): ReadonlySet<string> {
  const found = new Set<string>()
  const seen = new Set<string>()
  const edge = [`${fuse}:out`]
  for (let terminal = edge.pop(); terminal !== undefined; terminal = edge.pop()) {
    for (const end of web.get(terminal) ?? []) {
      const key = componentOf(end)
      const kind = parts.get(state.components.get(key)?.part ?? '')?.kind ?? ''
      if (seen.has(end) || key === fuse || leadsNowhere.includes(kind)) continue
      seen.add(end)
      found.add(key)
      for (const leave of waysThrough(kind, terminalNameOf(end), key, web)) edge.push(`${key}:${leave}`)
    }
  }
  return found
}

const leadsNowhere = ['battery', 'alternator', 'charger', 'chassis', 'ground-point']

function isLoad(kind: string): boolean {
  return kind === 'load' || kind === 'pump'
}

function systemVoltage(state: State): number {
  return state.vehicle.systemVoltage_V
}

function currentOf(ratings: Ratings, system_V: number): number | null {
  if (typeof ratings.current_A === 'number') return ratings.current_A
  const rated_V = typeof ratings.rated_V === 'number' ? ratings.rated_V : system_V
  return typeof ratings.power_W === 'number' ? ratings.power_W / rated_V : null
}

function sumKnown(currents: readonly (number | null)[]): number {
  return currents.reduce<number>((sum, current) => sum + (current ?? 0), 0)
}

/** Readings are good to milliamperes at best: this drops what binary fractions add. */
function tidy(current_A: number): number {
  return Math.round(current_A * 1e6) / 1e6
}
