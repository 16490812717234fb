/** Past 200 lines: a chain and the changes it stands for are two readings of one thing, and belong side by side. Pure. */
import { isFluid, isTerminal, partKind } from '../engine/parts/index.ts'
import { componentOf, terminalNameOf } from './changes/wiring.ts'
import { componentKey } from './component-key.ts'
import type { Change, Refusal } from './contract.ts'
import type { Component, Part } from './engine-types.ts'
import type { NewPart } from './parts.ts'
import { refusal } from './refusals.ts'
import type { State } from './state.ts'

export type PartChoice = { readonly id: string } | { readonly new: NewPart }
export type ConductorRow = {
  readonly type: 'conductor'
  /** null: not known */
  readonly length_m: number | null
  readonly part: PartChoice
  readonly zone?: string | undefined
}
export type ComponentRow = {
  readonly type: string
  readonly name: string
  readonly part: PartChoice
  readonly zone?: string | undefined
  /** terminals where the current comes in and goes out, where they are not the usual ones of the kind */
  readonly enter?: string | undefined
  readonly leave?: string | undefined
}
export type ChainRow = ConductorRow | ComponentRow
export type ChainReturn = { readonly conductor?: ConductorRow | undefined; readonly to: string }
export type ChainControl = {
  readonly from?: string | undefined
  readonly conductor?: ConductorRow | undefined
  readonly groundTo?: string | undefined
  readonly groundConductor?: ConductorRow | undefined
}
/** A run of components, end to end as the current flows; being next to one another implies the joins. Ends are `component:terminal`. */
export type Chain = {
  readonly from: string
  readonly rows: readonly ChainRow[]
  readonly return: ChainReturn | null
  readonly control: ChainControl | null
  /** the loads were already part of what was read at the fuse: they come out of its rest */
  readonly inRest?: boolean | undefined
}

/** `id` is provisional: `new-1`, `new-2` … */
export type ProvisionalPart = NewPart & { readonly id: string }
export type Expanded =
  | { readonly ok: true; readonly changes: readonly Change[]; readonly newParts: readonly ProvisionalPart[] }
  | { readonly ok: false; readonly refusals: readonly Refusal[] }

const oneNode = ['block', 'splice', 'ground-point', 'chassis']
/** where current usually comes in and goes out */
const ways: Readonly<Record<string, readonly [string, string]>> = {
  conductor: ['a', 'b'],
  fuse: ['in', 'out'],
  breaker: ['in', 'out'],
  switch: ['in', 'out'],
  relay: ['30', '87'],
  module: ['in', 'out1'],
  diode: ['a', 'k'],
  connector: ['1a', '1b'],
  converter: ['in', '-'],
  load: ['+', '-'],
  pump: ['+', '-'],
  battery: ['+', '-'],
  alternator: ['+', '-'],
  charger: ['out', '-'],
  ...Object.fromEntries(oneNode.map((kind) => [kind, ['1', '2'] as const])),
}
/** where a chain ends: current does not go on through these to something further out */
const ends = ['load', 'pump', 'battery', 'alternator', 'charger', 'converter']

/** Terminals of a row where none are said. */
export function usualWay(kind: string): readonly [string, string] | null {
  return ways[kind] ?? null
}

export function expandChain(given: {
  readonly state: State
  readonly parts: ReadonlyMap<string, Part>
  readonly chain: Chain
  /** keys that the vehicle uses at other times */
  readonly taken?: ReadonlySet<string> | undefined
}): Expanded {
  const { state, chain } = given
  const draft = startDraft(given)
  checkPlace(draft, chain.from, 'from')
  if (chain.rows.length === 0 && !chain.return) draft.refuse('rows', 'Say what is added: the chain is empty.')
  const names = namesOf(state, chain)
  let at = chain.from
  let relay: { readonly key: string; readonly name: string } | null = null
  for (const [index, row] of chain.rows.entries()) {
    const field = `rows.${index}`
    const kind = draft.kindOf(row, field)
    if (!kind) continue
    const way = wayOf(draft, row, kind, field)
    const name = row.type === 'conductor' ? (names[index] ?? 'Wire') : (row as ComponentRow).name
    const key = fit(draft, { row, name, field })
    draft.join(at, `${key}:${way.enter}`)
    at = `${key}:${way.leave}`
    if (kind === 'relay') relay ??= { key, name: name.trim() }
  }
  if (chain.return) {
    checkPlace(draft, chain.return.to, 'return.to')
    if (chain.return.conductor)
      at = lay(draft, { row: chain.return.conductor, at, name: `${names.last} return`, field: 'return.conductor' })
    draft.join(at, chain.return.to)
  } else if (chain.rows.at(-1)?.type === 'conductor') {
    draft.refuse(`rows.${chain.rows.length - 1}`, 'A chain ends at a component, or says where its return goes: this wire would hang loose.')
  }
  if (chain.control) control(draft, chain.control, relay)
  return draft.end()
}

/** The reverse: the path from a terminal to a component (its key), as the chain that would have made it. Null if there is none. */
export function readChain(state: State, parts: ReadonlyMap<string, Part>, from: string, to: string): Chain | null {
  const web = webOf(state)
  const steps = findPath({ state, parts, web, from, to })
  if (!steps) return null
  const rows = steps.map((step) => rowOf(state, parts, step))
  const last = steps.at(-1)
  const lastKind = last ? kindAt(state, parts, last.key) : ''
  const relay = steps.find((step) => kindAt(state, parts, step.key) === 'relay')
  const back = last && ends.includes(lastKind) && last.leave !== '' ? readEnd(state, parts, web, `${last.key}:${last.leave}`, from) : null
  return { from, rows, return: back, control: relay ? readControl(state, parts, web, relay.key) : null }
}

export type Insert = {
  /** the conductor to cut */
  readonly conductor: string
  /** length of the piece that keeps its name; null: not known */
  readonly near_m: number | null
  /** which end of the conductor is the near one */
  readonly nearEnd?: 'a' | 'b' | undefined
  readonly row: ComponentRow
}

/** Cuts a conductor and puts a component between: the near piece keeps its name, lengths sum, joins of the far end move to the new piece. */
export function insertInLine(given: {
  readonly state: State
  readonly parts: ReadonlyMap<string, Part>
  readonly insert: Insert
  readonly taken?: ReadonlySet<string> | undefined
}): Expanded {
  const { state, parts, insert } = given
  const draft = startDraft(given)
  const cut = state.components.get(insert.conductor)
  if (!cut || parts.get(cut.part)?.kind !== 'conductor') {
    draft.refuse('conductor', 'Only a conductor that is in the vehicle then can be cut.')
    return draft.end()
  }
  const [near, far] = insert.nearEnd === 'b' ? (['b', 'a'] as const) : (['a', 'b'] as const)
  const far_m = restLength(draft, cut, insert.near_m)
  const kind = draft.kindOf(insert.row, 'row')
  if (!kind) return draft.end()
  const way = wayOf(draft, insert.row, kind, 'row')
  if (insert.near_m !== null) draft.add({ kind: 'rerouted', component: cut.key, length_m: insert.near_m })
  const { length_m: _, ...rest } = cut
  const farKey = draft.key(`${cut.name} beyond ${insert.row.name.trim()}`)
  const moved = [...state.joins.values()].filter((join) => join.from === `${cut.key}:${far}` || join.to === `${cut.key}:${far}`)
  for (const join of moved) draft.add({ kind: 'unjoined', from: join.from, to: join.to })
  const key = fit(draft, { row: insert.row, name: insert.row.name, field: 'row' })
  const farPiece = {
    ...rest,
    key: farKey,
    name: `${cut.name} beyond ${insert.row.name.trim()}`.slice(0, 120),
    ...(far_m === null ? {} : { length_m: far_m }),
  }
  draft.add({ kind: 'fitted', component: farPiece })
  draft.join(`${cut.key}:${far}`, `${key}:${way.enter}`)
  draft.join(`${key}:${way.leave}`, `${farKey}:${near}`)
  for (const join of moved) {
    const other = join.from === `${cut.key}:${far}` ? join.to : join.from
    draft.join(`${farKey}:${far}`, other, join.resistance_ohm)
  }
  return draft.end()
}

type Draft = {
  readonly parts: ReadonlyMap<string, Part>
  readonly state: State
  refuse(field: string, sentence: string): void
  add(change: Change): void
  join(from: string, to: string, resistance_ohm?: number): void
  key(name: string): string
  partId(choice: PartChoice): string
  kindOf(row: ChainRow, field: string): string | null
  end(): Expanded
}

function startDraft(given: {
  readonly state: State
  readonly parts: ReadonlyMap<string, Part>
  readonly taken?: ReadonlySet<string> | undefined
}): Draft {
  const { state, parts } = given
  const taken = new Set([...state.components.keys(), ...(given.taken ?? [])])
  const fitted: Change[] = []
  const joined: Change[] = []
  const refusals: Refusal[] = []
  const newParts: ProvisionalPart[] = []
  return {
    parts,
    state,
    refuse: (field, sentence) => void refusals.push(refusal('chain-not-valid', sentence, { field })),
    add: (change) => void fitted.push(change),
    join: (from, to, resistance_ohm) =>
      void joined.push({ kind: 'joined', from, to, ...(resistance_ohm === undefined ? {} : { resistance_ohm }) }),
    key(name) {
      const key = componentKey(name, taken)
      taken.add(key)
      return key
    },
    partId(choice) {
      if ('id' in choice) return choice.id
      const same = newParts.find((part) => sameAs(part, choice.new))
      if (same) return same.id
      const id = `new-${newParts.length + 1}`
      newParts.push({ ...choice.new, id })
      return id
    },
    kindOf(row, field) {
      const kind = 'id' in row.part ? parts.get(row.part.id)?.kind : row.part.new.kind
      if (kind === undefined || !partKind(kind)) {
        refusals.push(refusal('chain-not-valid', 'Choose a part from the shelf, or describe a new one.', { field: `${field}.part` }))
        return null
      }
      if (kind !== row.type) {
        refusals.push(refusal('chain-not-valid', `This row says ${row.type}, and its part is a ${kind}.`, { field: `${field}.part` }))
        return null
      }
      return kind
    },
    end: () => (refusals.length > 0 ? { ok: false, refusals } : { ok: true, changes: [...fitted, ...joined], newParts }),
  }
}

/** Two rows that describe the same new thing share one part. */
function sameAs(part: NewPart, other: NewPart): boolean {
  const told = ({ kind, name, ratings, evidence, notes }: NewPart): string =>
    JSON.stringify([kind, name.trim(), ratings, evidence ?? {}, notes ?? ''])
  return told(part) === told(other)
}

function wayOf(draft: Draft, row: ChainRow, kind: string, field: string): { readonly enter: string; readonly leave: string } {
  const usual = usualWay(kind) ?? ['', '']
  const said = row as { readonly enter?: string | undefined; readonly leave?: string | undefined }
  const way = { enter: said.enter ?? usual[0], leave: said.leave ?? usual[1] }
  for (const side of ['enter', 'leave'] as const) {
    if (!isTerminal(kind, way[side]) || isFluid(kind, way[side]))
      draft.refuse(`${field}.${side}`, `A ${kind} has no electrical terminal ${way[side] || 'to join to'}.`)
  }
  if (way.enter === way.leave) draft.refuse(`${field}.leave`, 'Current cannot go out where it came in.')
  return way
}

function fit(draft: Draft, given: { readonly row: ChainRow; readonly name: string; readonly field: string }): string {
  const { row, field } = given
  const name = given.name.trim()
  if (name.length < 1 || name.length > 120) draft.refuse(`${field}.name`, 'Give it a name of 1 to 120 letters.')
  if (row.zone !== undefined && !draft.state.zones.has(row.zone))
    draft.refuse(`${field}.zone`, 'There is no such zone in the vehicle then.')
  const length_m = row.type === 'conductor' ? (row as ConductorRow).length_m : null
  if (length_m !== null && !(length_m > 0 && length_m <= 1000))
    draft.refuse(`${field}.length_m`, 'Give a length above 0 m and up to 1000 m, or leave it not known.')
  const key = draft.key(name)
  const component: Component = {
    key,
    name,
    part: draft.partId(row.part),
    ...(row.zone === undefined ? {} : { zone: row.zone }),
    ...(length_m === null ? {} : { length_m }),
  }
  draft.add({ kind: 'fitted', component })
  return key
}

/** A conductor from a terminal; answers its far end. */
function lay(
  draft: Draft,
  given: { readonly row: ConductorRow; readonly at: string; readonly name: string; readonly field: string },
): string {
  if (!draft.kindOf(given.row, given.field)) return given.at
  const key = fit(draft, { row: given.row, name: given.name.slice(0, 120), field: given.field })
  draft.join(given.at, `${key}:a`)
  return `${key}:b`
}

function control(draft: Draft, said: ChainControl, relay: { readonly key: string; readonly name: string } | null): void {
  if (relay === null) {
    draft.refuse('control', 'There is no relay in the chain to be switched.')
    return
  }
  const side = (terminal: '85' | '86', place: string | undefined, row: ConductorRow | undefined, field: string, wire: string): void => {
    if (place === undefined) {
      if (row) draft.refuse(field, 'Say where this wire goes.')
      return
    }
    checkPlace(draft, place, field)
    const wireField = terminal === '86' ? 'control.conductor' : 'control.groundConductor'
    if (terminal === '86') {
      const at = row ? lay(draft, { row, at: place, name: wire, field: wireField }) : place
      draft.join(at, `${relay.key}:86`)
    } else {
      const at = row ? lay(draft, { row, at: `${relay.key}:85`, name: wire, field: wireField }) : `${relay.key}:85`
      draft.join(at, place)
    }
  }
  side('86', said.from, said.conductor, 'control.from', `${relay.name} coil feed`)
  side('85', said.groundTo, said.groundConductor, 'control.groundTo', `${relay.name} coil return`)
}

function checkPlace(draft: Draft, place: string, field: string): void {
  const component = draft.state.components.get(componentOf(place))
  if (!component) {
    draft.refuse(field, 'Choose a terminal of a component that is in the vehicle then.')
    return
  }
  const kind = draft.parts.get(component.part)?.kind ?? ''
  const name = terminalNameOf(place)
  if (!isTerminal(kind, name) || isFluid(kind, name)) draft.refuse(field, `${component.name} has no electrical terminal ${name}.`)
}

function restLength(draft: Draft, cut: Component, near_m: number | null): number | null {
  if (near_m === null || cut.length_m === undefined) {
    if (near_m !== null && !(near_m > 0)) draft.refuse('near_m', 'Give a length above 0 m.')
    if (near_m === null && cut.length_m !== undefined) draft.refuse('near_m', `Say where ${cut.name} is cut: it is ${cut.length_m} m long.`)
    return null
  }
  if (!(near_m > 0 && near_m < cut.length_m)) draft.refuse('near_m', `${cut.name} is ${cut.length_m} m long: cut it somewhere between.`)
  return Math.round((cut.length_m - near_m) * 1e6) / 1e6
}

/** Wires are called after what they lead to. */
function namesOf(state: State, chain: Chain): Readonly<Record<number, string>> & { readonly last: string } {
  const start = state.components.get(componentOf(chain.from))?.name ?? 'Start'
  const names: Record<number, string> = {}
  let previous = start
  for (const [index, row] of chain.rows.entries()) {
    if (row.type !== 'conductor') {
      previous = (row as ComponentRow).name.trim()
      continue
    }
    const next = chain.rows.slice(index + 1).find((later): later is ComponentRow => later.type !== 'conductor')
    const end = next?.name.trim() ?? state.components.get(componentOf(chain.return?.to ?? ''))?.name ?? 'end'
    names[index] = `${previous} to ${end}`.slice(0, 120)
  }
  return Object.assign(names, { last: previous.slice(0, 100) })
}

/** Which terminals each terminal is joined to. */
export type Web = ReadonlyMap<string, readonly string[]>
type Step = { readonly key: string; readonly enter: string; readonly leave: string }

export function webOf(state: State): Web {
  const web = new Map<string, string[]>()
  const add = (a: string, b: string): void => {
    const already = web.get(a)
    if (already) already.push(b)
    else web.set(a, [b])
  }
  for (const { from, to } of state.joins.values()) {
    add(from, to)
    add(to, from)
  }
  return web
}

/** Breadth first, so the path with the fewest components; never through what `from` belongs to, nor through an end. */
function findPath(given: {
  readonly state: State
  readonly parts: ReadonlyMap<string, Part>
  readonly web: Web
  readonly from: string
  readonly to: string
}): readonly Step[] | null {
  const { state, parts, web, from, to } = given
  type Reached = { readonly terminal: string; readonly step: Step | null; readonly before: Reached | null }
  const seen = new Set([from])
  let edge: Reached[] = [{ terminal: from, step: null, before: null }]
  const pathOf = (reached: Reached, last: Step): readonly Step[] => {
    const steps = [last]
    for (let at: Reached | null = reached; at?.step; at = at.before) steps.unshift(at.step)
    return steps
  }
  while (edge.length > 0) {
    const next: Reached[] = []
    for (const reached of edge) {
      for (const end of web.get(reached.terminal) ?? []) {
        const key = componentOf(end)
        if (key === componentOf(from) || seen.has(end)) continue
        const enter = terminalNameOf(end)
        const kind = kindAt(state, parts, key)
        const usual = usualWay(kind)
        if (key === to) {
          if (ends.includes(kind) && enter === '-') continue
          return pathOf(reached, { key, enter, leave: lastLeave(kind, enter, usual) })
        }
        seen.add(end)
        for (const leave of waysThrough(kind, enter, key, web)) {
          const terminal = `${key}:${leave}`
          if (seen.has(terminal)) continue
          seen.add(terminal)
          next.push({ terminal, step: { key, enter, leave }, before: reached })
        }
      }
    }
    edge = next
  }
  return null
}

function lastLeave(kind: string, enter: string, usual: readonly [string, string] | null): string {
  if (!usual) return ''
  return enter === usual[1] && !oneNode.includes(kind) ? usual[0] : usual[1]
}

/** Terminals a current that came in at `enter` can go out by. A relay's coil leads nowhere; ends lead nowhere. */
export function waysThrough(kind: string, enter: string, key: string, web: Web): readonly string[] {
  if (kind === 'converter' && enter === 'in') return ['out']
  if (ends.includes(kind)) return []
  if (oneNode.includes(kind))
    return [...web.keys()].filter((end) => componentOf(end) === key && terminalNameOf(end) !== enter).map(terminalNameOf)
  if (kind === 'relay') return enter === '30' ? ['87', '87a', '87b'] : /^87/.test(enter) ? ['30'] : []
  if (kind === 'connector') return [enter.endsWith('a') ? `${enter.slice(0, -1)}b` : `${enter.slice(0, -1)}a`]
  if (kind === 'switch' || kind === 'module') {
    const outs = [...web.keys()].filter((end) => componentOf(end) === key && terminalNameOf(end).startsWith('out')).map(terminalNameOf)
    return enter === 'in' ? outs : ['in']
  }
  const usual = usualWay(kind)
  return usual ? [enter === usual[0] ? usual[1] : usual[0]] : []
}

function kindAt(state: State, parts: ReadonlyMap<string, Part>, key: string): string {
  return parts.get(state.components.get(key)?.part ?? '')?.kind ?? ''
}

function rowOf(state: State, parts: ReadonlyMap<string, Part>, step: Step): ChainRow {
  const component = state.components.get(step.key) as Component
  const kind = kindAt(state, parts, step.key)
  if (kind === 'conductor') return conductorRow(component)
  const usual = usualWay(kind) ?? ['', '']
  return {
    type: kind,
    name: component.name,
    part: { id: component.part },
    ...(component.zone === undefined ? {} : { zone: component.zone }),
    ...(step.enter === usual[0] ? {} : { enter: step.enter }),
    ...(step.leave === usual[1] ? {} : { leave: step.leave }),
  }
}

function conductorRow(component: Component): ConductorRow {
  return {
    type: 'conductor',
    length_m: component.length_m ?? null,
    part: { id: component.part },
    ...(component.zone === undefined ? {} : { zone: component.zone }),
  }
}

/** What hangs on a terminal: at most one conductor, then a place. */
function readEnd(state: State, parts: ReadonlyMap<string, Part>, web: Web, terminal: string, not?: string): ChainReturn | null {
  for (const end of web.get(terminal) ?? []) {
    if (end === not) continue
    const key = componentOf(end)
    if (kindAt(state, parts, key) !== 'conductor') return { to: end }
    const farEnd = `${key}:${terminalNameOf(end) === 'a' ? 'b' : 'a'}`
    const to = (web.get(farEnd) ?? [])[0]
    if (to !== undefined) return { conductor: conductorRow(state.components.get(key) as Component), to }
  }
  return null
}

function readControl(state: State, parts: ReadonlyMap<string, Part>, web: Web, relay: string): ChainControl | null {
  const feed = readEnd(state, parts, web, `${relay}:86`)
  const ground = readEnd(state, parts, web, `${relay}:85`)
  if (!feed && !ground) return null
  return {
    ...(feed ? { from: feed.to } : {}),
    ...(feed?.conductor ? { conductor: feed.conductor } : {}),
    ...(ground ? { groundTo: ground.to } : {}),
    ...(ground?.conductor ? { groundConductor: ground.conductor } : {}),
  }
}

/** How many of each kind of part the changes would fit, and how many joins they would make: for the form's foot. */
export function countRecorded(
  changes: readonly Change[],
  kindOfPart: (part: string) => string | undefined,
): { readonly kinds: readonly { readonly kind: string; readonly count: number }[]; readonly joins: number } {
  const kinds = new Map<string, number>()
  let joins = 0
  for (const change of changes) {
    if (change.kind === 'joined') joins += 1
    if (change.kind !== 'fitted') continue
    const kind = kindOfPart(change.component.part) ?? 'part'
    kinds.set(kind, (kinds.get(kind) ?? 0) + 1)
  }
  return { kinds: [...kinds].map(([kind, count]) => ({ kind, count })), joins }
}
