import { randomUUID } from 'node:crypto'
import { partKind } from '../../engine/parts/index.ts'
import type { Component, Part } from '../../engine/vehicle.ts'
import { componentOf, joinsAt } from '../../records/changes/wiring.ts'
import type { Offering } from '../../records/parts-offered.ts'
import type { State } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'
import { figure } from '../../web/format.ts'
import { entryField, type ShownFault } from '../shared/faults.ts'
import { type Group, type Option, option, partOption, partsHint, wantedFirst } from '../shared/options.ts'
import type { Tried } from '../shared/tried.ts'
import { cuttable, insertTypes } from './form.ts'

export type View = {
  readonly id: string
  readonly key: string
  readonly faults: readonly ShownFault[]
  readonly conductors: readonly Option[]
  readonly nearLabel: string
  readonly types: readonly Option[]
  readonly groups: readonly Group[]
  readonly partsHint: string
  readonly typed: Readonly<Record<string, string>>
  readonly unknown: Readonly<Record<string, string>>
  readonly once: string
  readonly tried: Tried | null
}

export function view(given: {
  readonly vehicle: { readonly id: string }
  readonly component: Component
  readonly state: State
  readonly parts: ReadonlyMap<string, Part>
  readonly offered: Offering
  readonly today: string
  readonly form: FormReader
  readonly faults: readonly ShownFault[]
  readonly tried: Tried | null
}): View {
  const { form, state, parts, component } = given
  const cuts = cuttable(state, parts, component.key)
  const wanted = form.typed('type') || 'fuse'
  const picked = form.typed('part')
  const offered = wantedFirst(insertTypes, wanted).map((kind) => ({ kind, ...given.offered(kind, picked) }))
  const own = offered.find(({ kind }) => kind === wanted)
  return {
    id: given.vehicle.id,
    key: component.key,
    faults: given.faults,
    conductors: cuts.map(({ conductor }) => {
      const wire = state.components.get(conductor)
      const length = wire?.length_m === undefined ? 'length not known' : figure(wire.length_m, 'm')
      return option(conductor, `${wire?.name ?? conductor}, ${length}`, form.typed('conductor'))
    }),
    nearLabel: cuts[0]?.conductor === component.key ? `From its end at ${farName(state, component.key)}` : `From ${component.name}`,
    types: insertTypes.map((one) => option(one, partKind(one)?.title ?? one, wanted)),
    groups: offered.flatMap(({ kind, parts }) =>
      parts.length === 0 ? [] : [{ label: partKind(kind)?.title ?? kind, options: parts.map((part) => partOption(part, picked)) }],
    ),
    partsHint: own ? partsHint(own) : '',
    typed: Object.fromEntries(
      ['near', 'name', 'figure', 'title'].map((field) => [field, form.typed(field)]).concat([['on', form.typed('on') || given.today]]),
    ),
    unknown: Object.fromEntries(['near', 'figure'].map((field) => [field, form.ticked(`unknown-${field}`) ? 'yes' : 'no'])),
    once: form.typed('once') || randomUUID(),
    tried: given.tried,
  }
}

export function fieldLabel(field: string): string {
  const labels: Readonly<Record<string, string>> = {
    conductor: 'Wire to cut',
    near: 'Where',
    type: 'What goes between',
    name: 'Name',
    figure: 'Rating',
    part: 'Part',
    on: 'When',
    title: 'Title',
  }
  return labels[field] ?? field
}

/** Pieces of a cut as its form calls them. */
export function fieldOf(refused: string): string {
  const same: Readonly<Record<string, string>> = {
    conductor: 'conductor',
    near_m: 'near',
    'row.name': 'name',
    'row.part': 'part',
    'row.enter': 'type',
    'row.leave': 'type',
    'row.zone': 'conductor',
  }
  return same[refused] ?? entryField(refused)
}

function farName(state: State, conductor: string): string {
  const end = `${conductor}:a`
  const join = joinsAt(state, conductor).find(({ from, to }) => from === end || to === end)
  return (join && state.components.get(componentOf(join.from === end ? join.to : join.from))?.name) ?? 'a'
}
