import { compareFindings } from '../../engine/compare.ts'
import { partKind } from '../../engine/parts/index.ts'
import type { Component, Part } from '../../engine/vehicle.ts'
import type { Chain } from '../../records/chain.ts'
import type { TriedChain } from '../../records/journal.ts'
import type { StoredPart } from '../../records/parts.ts'
import type { State } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'
import { figure } from '../../web/format.ts'
import type { ShownFault } from '../shared/faults.ts'
import { rowTypes } from './form.ts'

type Option = { readonly value: string; readonly label: string; readonly chosen: boolean }
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
}
export type Foot = { readonly records: string; readonly worst: string; readonly lines: readonly string[] }
export type View = {
  readonly id: string
  readonly key: string
  readonly name: string
  readonly faults: readonly ShownFault[]
  readonly froms: readonly Option[]
  readonly rows: readonly Row[]
  readonly rowCount: string
  readonly returns: readonly Option[]
  readonly controls: readonly Option[]
  readonly controlGrounds: readonly Option[]
  readonly zones: readonly Option[]
  readonly typed: Readonly<Record<string, string>>
  readonly foot: Foot | null
}

export function view(given: {
  readonly vehicle: { readonly id: string }
  readonly state: State
  readonly component: Component
  readonly parts: readonly StoredPart[]
  readonly today: string
  readonly form: FormReader
  readonly faults: readonly ShownFault[]
  readonly foot: Foot | null
}): View {
  const { state, form, parts, component } = given
  const option = (value: string, label: string, picked: string): Option => ({ value, label, chosen: value === picked })
  const kindOf = (key: string) => parts.find((part) => part.id === state.components.get(key)?.part)?.kind ?? ''
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
      return {
        n,
        isWire: type === 'conductor',
        types: rowTypes.map((one) => option(one, one === 'conductor' ? 'Wire' : (partKind(one)?.title ?? one), type)),
        name: form.typed(`name-${n}`),
        figure: form.typed(`figure-${n}`),
        figureLabel: type === 'load' ? 'Draws, A' : 'Rating, A',
        size: form.typed(`size-${n}`),
        length: form.typed(`length-${n}`),
        parts: parts
          .filter((part) => part.kind === type)
          .map((part) =>
            option(part.id, part.inStock > 0 ? `${part.name} (${part.inStock} on the shelf)` : part.name, form.typed(`part-${n}`)),
          ),
      }
    }),
    rowCount: String(count),
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
    },
    foot: given.foot,
  }
}

/** "Records 1 fuse, 1 relay, 1 load, 3 conductors, 9 joins." and the worst verdict. */
export function footOf(tried: TriedChain): Foot {
  const things = tried.records.kinds.map((one) => `${one.count} ${one.count === 1 ? one.kind : `${one.kind}s`}`)
  const difference = compareFindings(tried.before, tried.after)
  const first = difference.appeared[0]
  return {
    records: `Would record ${[...things, `${tried.records.joins} joins`].join(', ')}.`,
    worst: first ? `${first.verdict}: ${first.says}` : 'Nothing would give way.',
    lines: difference.appeared.slice(1, 12).map((finding) => `${finding.verdict}: ${finding.says}`),
  }
}

/** A path read back from the record, in words, as it was entered. */
export function pathWords(given: { readonly chain: Chain; readonly state: State; readonly parts: ReadonlyMap<string, Part> }): {
  readonly from: string
  readonly steps: readonly string[]
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
    steps: chain.rows.map((row) => ('name' in row ? `${row.name} (${partName(row.part)})` : wire(row as never))),
    back: chain.return
      ? `${chain.return.conductor ? `${wire(chain.return.conductor)}, to ` : ''}${place(chain.return.to)}`
      : 'not recorded',
    control: chain.control
      ? `86 from ${chain.control.from ? place(chain.control.from) : 'not recorded'}; 85 to ${chain.control.groundTo ? place(chain.control.groundTo) : 'not recorded'}`
      : '',
  }
}
