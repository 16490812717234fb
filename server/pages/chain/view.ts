import { randomUUID } from 'node:crypto'
import { partKind } from '../../engine/parts/index.ts'
import type { Component, Part } from '../../engine/vehicle.ts'
import type { Chain } from '../../records/chain.ts'
import type { Offering } from '../../records/parts-offered.ts'
import { restOf } from '../../records/rest.ts'
import type { State } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'
import { figure } from '../../web/format.ts'
import { entryField, type ShownFault } from '../shared/faults.ts'
import { figureOf, rowTypes } from '../shared/new-part.ts'
import { type Option, option, partOption, partsHint } from '../shared/options.ts'
import type { Tried } from '../shared/tried.ts'
import type { Cuts } from './cuts.ts'

type Row = {
  readonly n: number
  readonly isWire: boolean
  readonly types: readonly Option[]
  readonly name: string
  readonly figure: string
  readonly figureLabel: string
  readonly size: string
  readonly length: string
  readonly parts: readonly Option[]
  readonly partsHint: string
  readonly unknown: Readonly<Record<string, string>>
}
export type View = {
  readonly id: string
  readonly key: string
  readonly name: string
  readonly faults: readonly ShownFault[]
  readonly froms: readonly Option[]
  readonly rows: readonly Row[]
  readonly rowCount: string
  readonly hasRelay: boolean
  readonly returns: readonly Option[]
  readonly controls: readonly Option[]
  readonly controlGrounds: readonly Option[]
  readonly zones: readonly Option[]
  readonly typed: Readonly<Record<string, string>>
  readonly unknown: Readonly<Record<string, string>>
  /** the reading that the loads may already be part of; empty: none was taken */
  readonly rest: string
  readonly inRest: boolean
  readonly finishes: string
  readonly finishing: string
  readonly once: string
  readonly tried: Tried | null
  readonly cuts: Cuts | null
}

export function view(given: {
  readonly vehicle: { readonly id: string }
  readonly state: State
  readonly component: Component
  readonly parts: ReadonlyMap<string, Part>
  readonly offered: Offering
  readonly today: string
  readonly form: FormReader
  readonly faults: readonly ShownFault[]
  readonly tried: Tried | null
  readonly cuts: Cuts | null
}): View {
  const { state, form, parts, component } = given
  const kindOf = (key: string) => parts.get(state.components.get(key)?.part ?? '')?.kind ?? ''
  const nameOf = (full: string) => `${state.components.get(full.split(':')[0] as string)?.name ?? full}, ${full.split(':')[1]}`
  const withTyped = (options: readonly Option[], field: string) =>
    form.typed(field) === '' || options.some((one) => one.value === form.typed(field))
      ? options
      : [option(form.typed(field), nameOf(form.typed(field)), form.typed(field)), ...options]
  const used = [...new Set([...state.joins.values()].flatMap((join) => [join.from, join.to]))].sort()
  const own = used.filter((full) => full.startsWith(`${component.key}:`))
  const grounds = [...state.components.keys()]
    .filter((key) => ['ground-point', 'chassis', 'battery', 'block'].includes(kindOf(key)))
    .map((key) => `${key}:${kindOf(key) === 'battery' ? '-' : (used.find((full) => full.startsWith(`${key}:`))?.split(':')[1] ?? '1')}`)
  const switched = [...state.components.keys()]
    .filter((key) => ['switch', 'fuse', 'module', 'breaker'].includes(kindOf(key)))
    .map((key) => `${key}:${kindOf(key) === 'module' ? 'out1' : 'out'}`)
  const count = Math.min(12, Number(form.typed('rows')) || 0)
  return {
    id: given.vehicle.id,
    key: component.key,
    name: component.name,
    faults: given.faults,
    froms: withTyped(
      own.map((full) => option(full, nameOf(full), form.typed('from'))),
      'from',
    ),
    rows: Array.from({ length: count }, (_, n): Row => {
      const type = form.typed(`type-${n}`) || 'conductor'
      const picked = form.typed(`part-${n}`)
      const offered = type === 'conductor' ? null : given.offered(type, picked)
      return {
        n,
        isWire: type === 'conductor',
        types: rowTypes.map((one) => option(one, one === 'conductor' ? 'Wire' : (partKind(one)?.title ?? one), type)),
        name: form.typed(`name-${n}`),
        figure: form.typed(`figure-${n}`),
        figureLabel: figureOf[type]?.label ?? '',
        size: form.typed(`size-${n}`),
        length: form.typed(`length-${n}`),
        parts: offered?.parts.map((part) => partOption(part, picked)) ?? [],
        partsHint: offered === null ? '' : partsHint(offered),
        unknown: unknownOf(form, [`figure-${n}`, `size-${n}`, `length-${n}`]),
      }
    }),
    rowCount: String(count),
    hasRelay: Array.from({ length: count }, (_, n) => form.typed(`type-${n}`)).includes('relay'),
    returns: withTyped(
      grounds.map((full) => option(full, nameOf(full), form.typed('return'))),
      'return',
    ),
    controls: withTyped(
      switched.map((full) => option(full, nameOf(full), form.typed('control'))),
      'control',
    ),
    controlGrounds: withTyped(
      grounds.map((full) => option(full, nameOf(full), form.typed('control-ground'))),
      'control-ground',
    ),
    zones: [...state.zones.values()].map((zone) => option(zone.key, zone.name, form.typed('zone') || (component.zone ?? ''))),
    typed: {
      returnSize: form.typed('return-size'),
      returnLength: form.typed('return-length'),
      insulation: form.typed('insulation'),
      on: form.typed('on') || given.today,
      title: form.typed('title'),
      control: form.typed('control'),
      controlGround: form.typed('control-ground'),
    },
    unknown: unknownOf(form, ['return-size', 'return-length']),
    rest: restWords(state, parts, form.typed('from')),
    inRest: form.ticked('inRest'),
    finishes: form.typed('finishes'),
    finishing: state.unfinished.get(form.typed('finishes'))?.text ?? '',
    once: form.typed('once') || randomUUID(),
    tried: given.tried,
    cuts: given.cuts,
  }
}

/** "F3 was read: 3.2 A of it has no name yet." */
function restWords(state: State, parts: ReadonlyMap<string, Part>, from: string): string {
  const rest = from === '' ? null : restOf(state, parts, from)
  if (rest === null) return ''
  const fuse = state.components.get(rest.fuse)?.name ?? rest.fuse
  return `It was already on when ${fuse} was read${rest.rest_A === null ? '' : ` (${figure(rest.rest_A, 'A')} of that reading has no name yet)`}`
}

function unknownOf(form: FormReader, fields: readonly string[]): Readonly<Record<string, string>> {
  return Object.fromEntries(fields.map((field) => [field.replace(/-\d+$/, ''), form.ticked(`unknown-${field}`) ? 'yes' : 'no']))
}

/** Fields of the chain form in words. */
export function fieldLabel(field: string): string {
  const [, name = '', row] = /^(type|name|figure|part|size|length)-(\d+)$/.exec(field) ?? []
  const words: Readonly<Record<string, string>> = {
    type: 'what it is',
    name: 'name',
    figure: 'figure',
    part: 'part',
    size: 'cross-section',
    length: 'length',
    from: 'From',
    return: 'Return',
    'return-size': 'Return, cross-section',
    'return-length': 'Return, length',
    control: '86 switched by',
    'control-ground': '85 to',
    zone: 'Zone',
    insulation: 'Wire insulation',
    on: 'When',
    title: 'Title',
    inRest: 'Already in the reading',
    rows: 'Rows',
  }
  return name === '' ? (words[field] ?? field) : `Row ${Number(row) + 1}, ${words[name]}`
}

/** Pieces of a chain as its form calls them. */
export function fieldOf(refused: string): string {
  const [, row, piece = ''] = /^rows\.(\d+)\.?(.*)$/.exec(refused) ?? []
  if (row !== undefined)
    return `${{ name: 'name', part: 'part', length_m: 'length', zone: 'zone' }[piece] ?? 'type'}-${row}`.replace(/^zone-\d+$/, 'zone')
  const same: Readonly<Record<string, string>> = {
    from: 'from',
    rows: 'type-0',
    'return.to': 'return',
    'return.conductor.length_m': 'return-length',
    'return.conductor.part': 'return-size',
    control: 'control',
    'control.from': 'control',
    'control.groundTo': 'control-ground',
    inRest: 'inRest',
    zone: 'zone',
  }
  return same[refused] ?? entryField(refused)
}

/** A path read back from the record, in words, as it was entered. */
export function pathWords(given: { readonly chain: Chain; readonly state: State; readonly parts: ReadonlyMap<string, Part> }): {
  readonly from: string
  readonly steps: readonly { readonly isWire: boolean; readonly words: string }[]
  readonly back: string
  readonly control: string
} {
  const { chain, state, parts } = given
  const place = (full: string) =>
    `${state.components.get(full.slice(0, full.indexOf(':')))?.name ?? full}, ${full.slice(full.indexOf(':') + 1)}`
  const partName = (choice: Chain['rows'][number]['part']) => ('id' in choice ? (parts.get(choice.id)?.name ?? '') : choice.new.name)
  const wire = (row: { readonly length_m: number | null; readonly part: Chain['rows'][number]['part'] }) =>
    `${row.length_m === null ? 'length not known' : figure(row.length_m, 'm')}, ${partName(row.part)}`
  return {
    from: place(chain.from),
    steps: chain.rows.map((row) =>
      'name' in row ? { isWire: false, words: `${row.name} (${partName(row.part)})` } : { isWire: true, words: wire(row as never) },
    ),
    back: chain.return
      ? `${chain.return.conductor ? `${wire(chain.return.conductor)}, to ` : ''}${place(chain.return.to)}`
      : 'not recorded',
    control: chain.control
      ? `86 from ${chain.control.from ? place(chain.control.from) : 'not recorded'}; 85 to ${chain.control.groundTo ? place(chain.control.groundTo) : 'not recorded'}`
      : '',
  }
}
