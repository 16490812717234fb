/** Two folded states compared: what is different, whatever was done in between to get there. Pure. */
import type { Component, Condition, Join, Zone } from './engine-types.ts'
import type { Due, State, Unfinished } from './state.ts'

/** `from` and `to` are null where nothing was said. */
type Pair<T> = { readonly from: T | null; readonly to: T | null }
export type Difference =
  | { readonly kind: 'fitted'; readonly component: Component }
  | { readonly kind: 'removed'; readonly component: Component }
  | { readonly kind: 'swapped'; readonly component: string; readonly from: string; readonly to: string }
  | { readonly kind: 'renamed'; readonly component: string; readonly from: string; readonly to: string }
  | ({ readonly kind: 'rerouted'; readonly component: string; readonly field: Route } & Pair<unknown>)
  | { readonly kind: 'joined'; readonly join: Join }
  | { readonly kind: 'unjoined'; readonly join: Join }
  | ({
      readonly kind: 'described'
      readonly of: 'vehicle' | 'component' | 'join'
      readonly key: string
      readonly field: string
    } & Pair<unknown>)
  | ({ readonly kind: 'zone'; readonly key: string } & Pair<Zone>)
  | ({ readonly kind: 'condition'; readonly key: string } & Pair<Condition>)
  | ({ readonly kind: 'unfinished'; readonly key: string } & Pair<Omit<Unfinished, 'entryId'>>)
  | ({ readonly kind: 'due'; readonly key: string } & Pair<Omit<Due, 'entryId'>>)
export type Route = (typeof routes)[number]

const routes = ['length_m', 'zone', 'bundle'] as const

/** In the order: components, their figures, joins, then what is said of the vehicle. The same twice: none. */
export function compareStates(before: State, after: State): readonly Difference[] {
  return [
    ...componentsCompared(before.components, after.components),
    ...joinsCompared(before.joins, after.joins),
    ...fieldsCompared(before.vehicle, after.vehicle).map((one): Difference => ({ kind: 'described', of: 'vehicle', key: '', ...one })),
    ...valuesCompared(before.zones, after.zones).map((one): Difference => ({ kind: 'zone', ...one })),
    ...valuesCompared(before.conditions, after.conditions).map((one): Difference => ({ kind: 'condition', ...one })),
    ...valuesCompared(told(before.unfinished), told(after.unfinished)).map((one): Difference => ({ kind: 'unfinished', ...one })),
    ...valuesCompared(told(before.due), told(after.due)).map((one): Difference => ({ kind: 'due', ...one })),
  ]
}

function componentsCompared(before: State['components'], after: State['components']): readonly Difference[] {
  return keysOf(before, after).flatMap((key): readonly Difference[] => {
    const was = before.get(key)
    const is = after.get(key)
    if (!was || !is) return is ? [{ kind: 'fitted', component: is }] : was ? [{ kind: 'removed', component: was }] : []
    return fieldsCompared(was, is).map(({ field, from, to }): Difference => {
      if (field === 'part') return { kind: 'swapped', component: key, from: was.part, to: is.part }
      if (field === 'name') return { kind: 'renamed', component: key, from: was.name, to: is.name }
      const route = routes.find((one) => one === field)
      return route
        ? { kind: 'rerouted', component: key, field: route, from, to }
        : { kind: 'described', of: 'component', key, field, from, to }
    })
  })
}

/** Which end is said first is no difference. */
function joinsCompared(before: State['joins'], after: State['joins']): readonly Difference[] {
  return keysOf(before, after).flatMap((key): readonly Difference[] => {
    const was = before.get(key)
    const is = after.get(key)
    if (!was || !is) return is ? [{ kind: 'joined', join: is }] : was ? [{ kind: 'unjoined', join: was }] : []
    const set = { from: was.resistance_ohm ?? null, to: is.resistance_ohm ?? null }
    return set.from === set.to ? [] : [{ kind: 'described', of: 'join', key, field: 'resistance_ohm', ...set }]
  })
}

function valuesCompared<T extends object>(
  before: ReadonlyMap<string, T>,
  after: ReadonlyMap<string, T>,
): readonly ({ readonly key: string } & Pair<T>)[] {
  return keysOf(before, after).flatMap((key) => {
    const [from, to] = [before.get(key) ?? null, after.get(key) ?? null]
    return alike(from, to) ? [] : [{ key, from, to }]
  })
}

function fieldsCompared(was: object, is: object): readonly ({ readonly field: string } & Pair<unknown>)[] {
  const [before, after] = [new Map(Object.entries(was)), new Map(Object.entries(is))]
  return keysOf(before, after).flatMap((field) => {
    const [from, to] = [(before.get(field) as unknown) ?? null, (after.get(field) as unknown) ?? null]
    return alike(from, to) ? [] : [{ field, from, to }]
  })
}

/** Which entry said it is no difference: a corrected entry says the same again. */
function told<T extends { readonly entryId: string }>(things: ReadonlyMap<string, T>): ReadonlyMap<string, Omit<T, 'entryId'>> {
  return new Map([...things].map(([key, { entryId: _, ...rest }]) => [key, rest]))
}

function keysOf(before: ReadonlyMap<string, unknown>, after: ReadonlyMap<string, unknown>): readonly string[] {
  return [...new Set([...before.keys(), ...after.keys()])]
}

/** The order of fields is no difference, nor that of the components a condition names; a field without a value is none. */
function alike(a: unknown, b: unknown): boolean {
  return JSON.stringify(canonical(a)) === JSON.stringify(canonical(b))
}

function canonical(value: unknown): unknown {
  if (Array.isArray(value)) return value.every((one) => typeof one === 'string') ? [...value].sort() : value.map(canonical)
  if (typeof value !== 'object' || value === null) return value
  return Object.entries(value)
    .filter(([, one]) => one !== undefined)
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([key, one]) => [key, canonical(one)])
}
