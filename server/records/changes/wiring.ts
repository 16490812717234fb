/** What fold steps ask of a state: is it there, is the terminal one of its part's, what is joined to it. */
import { isFluid, isTerminal } from '../../engine/parts/index.ts'
import type { Join } from '../engine-types.ts'
import type { State } from '../state.ts'
import type { Conflict, Given } from './change-kind.ts'

export function componentOf(terminal: string): string {
  return terminal.slice(0, terminal.indexOf(':'))
}

export function terminalNameOf(terminal: string): string {
  return terminal.slice(terminal.indexOf(':') + 1)
}

/** Joins are known by the pair they tie, whichever end is said first. */
export function joinKey(join: { readonly from: string; readonly to: string }): string {
  return join.from < join.to ? `${join.from} ${join.to}` : `${join.to} ${join.from}`
}

export function isConflict(answer: object | undefined): answer is Conflict {
  return answer !== undefined && 'sentence' in answer
}

export function missingComponent(state: State, key: string): Conflict | undefined {
  return state.components.has(key) ? undefined : { sentence: `There is no component "${key}" in the vehicle then.`, component: key }
}

export function joinsAt(state: State, component: string): readonly Join[] {
  return [...state.joins.values()].filter((join) => componentOf(join.from) === component || componentOf(join.to) === component)
}

export function terminalsInUse(state: State, component: string): readonly string[] {
  const ends = joinsAt(state, component).flatMap((join) => [join.from, join.to])
  return [...new Set(ends.filter((end) => componentOf(end) === component).map(terminalNameOf))]
}

export function wrongTerminal(state: State, end: string, given: Given): Conflict | undefined {
  const key = componentOf(end)
  const component = state.components.get(key)
  if (!component) return missingComponent(state, key)
  const kind = given.kindOfPart(component.part)
  if (kind !== undefined && isTerminal(kind, terminalNameOf(end))) return undefined
  return { sentence: `${component.name} has no terminal ${terminalNameOf(end)}.`, component: key }
}

export function carriesFluid(state: State, end: string, given: Given): boolean {
  const kind = given.kindOfPart(state.components.get(componentOf(end))?.part ?? '')
  return kind !== undefined && isFluid(kind, terminalNameOf(end))
}

export function withKey<V>(map: ReadonlyMap<string, V>, key: string, value: V): ReadonlyMap<string, V> {
  return new Map(map).set(key, value)
}

export function withoutKeys<V>(map: ReadonlyMap<string, V>, keys: readonly string[]): ReadonlyMap<string, V> {
  const next = new Map(map)
  for (const key of keys) next.delete(key)
  return next
}
