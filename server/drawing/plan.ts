/** From pieces of wiring to nodes and wires that a layout can place: each node a box with its symbol, its words and the points where wires meet it. */
import { type Groups, groupsOf, type Piece } from './groups.ts'
import type { End, Link, Linked } from './links.ts'
import { type Shape, type Sides, shape } from './shape.ts'
import { groundSymbol, jointSymbol, naturally, openSymbol, symbolOf } from './symbols.ts'

/** What is written beside a symbol and on a wire. */
export type Words = {
  readonly symbol: (key: string) => { readonly name: string; readonly rating: string }
  /** lines above the wire, and lines below it */
  readonly wire: (key: string) => { readonly above: readonly string[]; readonly below: readonly string[] }
}

export type PlanNode = {
  readonly id: string
  readonly role: 'symbol' | 'ground' | 'reference' | 'point'
  /** whose page it leads to; null for a point that is no component */
  readonly component: string | null
  readonly shape: Shape
  /** where the symbol's body stands in the box */
  readonly x: number
  readonly y: number
  readonly width: number
  readonly height: number
  readonly above: readonly string[]
  readonly below: readonly string[]
  /** beside the symbol, one at the height of each port: what hangs on it elsewhere */
  readonly rows: readonly { readonly port: string; readonly words: string; readonly other: string }[]
  /** the node at which a reference goes on */
  readonly other: string | null
  readonly side: 'left' | 'right'
}

export type PlanWire = {
  readonly id: string
  readonly conductor: string | null
  readonly from: { readonly node: string; readonly port: string }
  readonly to: { readonly node: string; readonly port: string }
  readonly above: readonly string[]
  readonly below: readonly string[]
}

export type PlanPiece = Piece & { readonly nodes: readonly PlanNode[]; readonly wires: readonly PlanWire[] }
export type Plan = { readonly pieces: readonly PlanPiece[]; readonly linked: Linked }

export const NAME = { size: 11, line: 13, letter: 6.5 }
export const FIGURE = { size: 10, line: 12, letter: 6.1 }
const NAME_LETTERS = 18
const ROW_LETTERS = 34
const REFERENCE_LETTERS = 18

export function planOf(linked: Linked, words: Words, most: (piece: string) => number): Plan {
  const groups = groupsOf(linked, most)
  const drafts = new Map(groups.pieces.map((piece) => [piece.id, new Draft(piece)]))
  const places = new Map<Link, { readonly from: Place; readonly to: Place; readonly draft: Draft }>()
  for (const link of linked.links) {
    const draft = drafts.get(pieceOfLink(link, groups).id) as Draft
    places.set(link, { from: placeOf(link.from, link, draft), to: placeOf(link.to, link, draft), draft })
  }
  const slots = new Slots(linked, groups)
  for (const [link, { from, to }] of places)
    for (const [end, place] of [
      [link.from, from],
      [link.to, to],
    ] as const)
      if (place === 'here' || place === 'elsewhere') slots.add(end, link, { isListed: place === 'elsewhere' && slots.lists(end) })
  for (const piece of groups.pieces) (drafts.get(piece.id) as Draft).members(linked, slots, words)
  for (const [link, { draft, from, to }] of places) draw({ link, draft, from, to, drafts, groups, slots, words, linked })
  // The body is drawn at each strap's end; by itself only where nothing ends on it.
  const isShown = ({ piece, wires }: Draft) =>
    !(
      piece.sort === 'ground' &&
      wires.length === 0 &&
      piece.members.every((key) => slots.kindOf(key) === 'chassis' && slots.returnsAt(key) !== '')
    )
  return { pieces: [...drafts.values()].filter(isShown).map((draft) => draft.done()), linked }

  function placeOf(end: End, link: Link, draft: Draft): Place {
    if (groups.pieceOf.get(end.component)?.id === draft.piece.id) return 'here'
    return groups.isGround(end.component) && link.from.component !== link.to.component ? 'ground' : 'elsewhere'
  }
}

/** Here: a symbol of this piece. Ground: the ground's sign is put at the wire's end. Elsewhere: a reference is. */
type Place = 'here' | 'ground' | 'elsewhere'

/** The piece that a link is drawn in: a circuit's rather than that of the rail or ground it hangs on. */
export function pieceOfLink(link: Link, groups: Groups): Piece {
  const weight = ({ component }: End) => (groups.isBody(component) ? 3 : groups.isGround(component) ? 2 : groups.isRail(component) ? 1 : 0)
  const [first, second] = [link.from, link.to]
  const own =
    weight(first) < weight(second) || (weight(first) === weight(second) && groups.steps(first) >= groups.steps(second)) ? first : second
  return groups.pieceOf.get(own.component) as Piece
}

/** The points of a node that its links meet: a terminal, or for a bar one place for each link. */
class Slots {
  private readonly byNode = new Map<string, { port: string; side: 'left' | 'right'; link: Link; isListed: boolean; terminal: string }[]>()
  private readonly linked: Linked
  private readonly groups: Groups

  constructor(linked: Linked, groups: Groups) {
    this.linked = linked
    this.groups = groups
  }

  lists({ component }: End): boolean {
    const kind = this.kindOf(component)
    return kind === 'block' || (kind === 'splice' && this.groups.isRail(component))
  }

  add(end: End, link: Link, given: { readonly isListed: boolean }): void {
    const known = this.byNode.get(end.component) ?? []
    const other = link.from === end ? link.to : link.from
    const side = !given.isListed && this.groups.isFed(end, other) ? 'left' : 'right'
    // A dot is met by its feed on the left and by what it feeds on the right; at a bar each wire has its own place.
    const port = this.lists(end) ? `${end.terminal}~${known.length}` : this.isDot(end.component) ? side : end.terminal
    known.push({ port, side, link, isListed: given.isListed, terminal: end.terminal })
    this.byNode.set(end.component, known)
  }

  portOf(end: End, link: Link): string {
    const slot = this.byNode.get(end.component)?.find((one) => one.link === link && one.terminal === end.terminal)
    return slot?.port ?? end.terminal
  }

  sides(key: string): Sides {
    const slots = [...(this.byNode.get(key) ?? [])].sort((a, b) => naturally(a.port, b.port))
    const of = (side: string) => [...new Set(slots.filter((one) => one.side === side).map((one) => one.port))]
    // A terminal that is fed by one wire and feeds another stands on the side of its feed.
    const left = of('left')
    return { left, right: of('right').filter((name) => !left.includes(name)) }
  }

  listed(key: string) {
    return (this.byNode.get(key) ?? []).filter((one) => one.isListed)
  }

  private isDot(key: string): boolean {
    return ['splice', 'ground-point', 'chassis', 'point'].includes(this.kindOf(key)) && this.linked.points.get(key) !== 'open'
  }

  /** "11 returns" at a stud that wires of other pieces end on. */
  returnsAt(key: string): string {
    if (!this.groups.isGround(key)) return ''
    const count = this.linked.links.filter((link) => [link.from, link.to].some((end) => end.component === key)).length
    const own = this.byNode.get(key)?.length ?? 0
    return count - own === 0 ? '' : `${count - own} ${count - own === 1 ? 'return' : 'returns'}`
  }

  kindOf(key: string): string {
    return this.linked.symbols.get(key)?.part.kind ?? 'point'
  }
}

/** A piece while it is being filled. */
class Draft {
  readonly piece: Piece
  readonly nodes = new Map<string, Omit<PlanNode, 'x' | 'y' | 'width' | 'height'>>()
  readonly wires: PlanWire[] = []

  constructor(piece: Piece) {
    this.piece = piece
  }

  members(linked: Linked, slots: Slots, words: Words): void {
    for (const key of this.piece.members) {
      const known = linked.symbols.get(key)
      const sides = slots.sides(key)
      const base = { rows: [], other: null, side: 'right' as const }
      if (!known) {
        const isOpen = linked.points.get(key) === 'open'
        const drawn = isOpen ? openSymbol(sides.left.length > 0 ? 'left' : 'right') : jointSymbol(sides)
        this.nodes.set(key, {
          ...base,
          id: `n${key}`,
          role: 'point',
          component: null,
          shape: drawn,
          above: [],
          below: isOpen ? ['open end'] : [],
        })
        continue
      }
      const { name, rating } = words.symbol(key)
      const drawn = turned(symbolOf({ kind: known.part.kind, ratings: known.part.ratings, sides }), sides)
      this.nodes.set(key, {
        ...base,
        id: `n-${key}`,
        role: 'symbol',
        component: key,
        shape:
          known.part.kind === 'splice' && slots.lists({ component: key, terminal: '' })
            ? symbolOf({ kind: 'block', ratings: {}, sides })
            : drawn,
        above: wrapped(name, NAME_LETTERS, 3),
        below: [
          slots.returnsAt(key),
          rating,
          ...(known.component.position && known.component.position !== name ? [`position ${known.component.position}`] : []),
        ].filter((one) => one !== ''),
      })
    }
  }

  done(): PlanPiece {
    return { ...this.piece, nodes: [...this.nodes.values()].map((node) => measured(node)), wires: this.wires }
  }
}

/** Puts a link into its piece as a wire, with a ground or reference at an end that is not there, and what tells of it at that end. */
function draw(given: {
  readonly link: Link
  readonly draft: Draft
  readonly from: Place
  readonly to: Place
  readonly drafts: ReadonlyMap<string, Draft>
  readonly groups: Groups
  readonly slots: Slots
  readonly words: Words
  readonly linked: Linked
}): void {
  const { link, draft, drafts, groups, slots, words, linked } = given
  const n = linked.links.indexOf(link)
  const nameAt = (end: End) => (linked.symbols.has(end.component) ? words.symbol(end.component).name : 'a joint')
  const portSide = (home: Draft, end: End) =>
    home.nodes.get(end.component)?.shape.ports.find((one) => one.name === slots.portOf(end, link))?.side ?? 'right'
  const tip = (end: End, place: Place, far: End): Tip => {
    if (place === 'here') return { node: idOf(end.component), port: slots.portOf(end, link), side: portSide(draft, end) }
    const id = `n${n}${end === link.from ? 'f' : 't'}`
    const bare = { above: [], rows: [] }
    if (place === 'ground') {
      const drawn = groundSymbol(slots.kindOf(end.component) === 'chassis')
      const below = wrapped(nameAt(end), 14, 2)
      draft.nodes.set(id, { ...bare, id, role: 'ground', component: end.component, shape: drawn, below, other: null, side: 'left' })
      return { node: id, port: '1', side: 'left' }
    }
    const isFarHere = groups.pieceOf.get(far.component)?.id === draft.piece.id
    const side = across(isFarHere ? portSide(draft, far) : 'left')
    const home = drafts.get((groups.pieceOf.get(end.component) as Piece).id) as Draft
    const listed = slots.lists(end)
    const other = listed ? idOf(end.component) : `${id}o`
    const way = slots.kindOf(end.component) === 'splice' ? '' : `:${end.terminal}`
    const below = wrapped(`${nameAt(end)}${way}`, REFERENCE_LETTERS, 2)
    draft.nodes.set(id, { ...bare, id, role: 'reference', component: end.component, shape: reference(side), below, other, side })
    if (listed) list(home, { end, far, id })
    else pointBack(home, { end, far, id })
    return { node: id, port: '1', side }
  }
  /** A bar lists what hangs on it. */
  const list = (home: Draft, { end, far, id }: { readonly end: End; readonly far: End; readonly id: string }) => {
    const node = home.nodes.get(end.component)
    if (!node) return
    const row = { port: slots.portOf(end, link), words: shortened(nameAt(far), ROW_LETTERS), other: id }
    home.nodes.set(end.component, { ...node, rows: [...node.rows, row] })
  }
  /** At any other symbol the wire's beginning is told: what hangs there, and on which sheet. */
  const pointBack = (home: Draft, { end, far, id }: { readonly end: End; readonly far: End; readonly id: string }) => {
    const there = portSide(home, end)
    const side = across(there)
    const component = linked.symbols.has(far.component) ? far.component : null
    const below = wrapped(nameAt(far), REFERENCE_LETTERS, 2)
    home.nodes.set(`${id}o`, {
      id: `${id}o`,
      role: 'reference',
      component,
      shape: reference(side),
      above: [],
      rows: [],
      below,
      other: id,
      side,
    })
    const ends = forward(
      { node: idOf(end.component), port: slots.portOf(end, link), side: there },
      { node: `${id}o`, port: '1', side },
      true,
    )
    home.wires.push({ id: `w${n}o`, conductor: null, ...ends, above: [], below: [] })
  }
  const [from, to] = [tip(link.from, given.from, link.to), tip(link.to, given.to, link.from)]
  const label = link.conductor === null ? { above: [], below: [] } : words.wire(link.conductor)
  const ends = forward(from, to, groups.steps(link.from) <= groups.steps(link.to))
  draft.wires.push({ id: `w${n}`, conductor: link.conductor, ...ends, ...label })
}

type Tip = PlanWire['from'] & { readonly side: 'left' | 'right' }

/** A wire runs from a right edge to a left one; where both are alike, as the feed does. */
function forward(one: Tip, other: Tip, isFeed: boolean): Pick<PlanWire, 'from' | 'to'> {
  const isForward = one.side === other.side ? isFeed : one.side === 'right'
  const [from, to] = isForward ? [one, other] : [other, one]
  return { from: { node: from.node, port: from.port }, to: { node: to.node, port: to.port } }
}

function across(side: 'left' | 'right'): 'left' | 'right' {
  return side === 'left' ? 'right' : 'left'
}

function idOf(component: string): string {
  return component.startsWith(':') ? `n${component}` : `n-${component}`
}

/** The end of a wire that goes on elsewhere: an arrow; its words stand inside the box. */
function reference(side: 'left' | 'right'): Shape {
  return shape({
    width: 18,
    height: 22,
    ports: [{ name: '1', side, y: 11, label: '' }],
    lines: side === 'right' ? 'M8 11H18M0 5L8 11L0 17' : 'M0 11H10M10 5L18 11L10 17',
  })
}

/** A fuse or switch whose feed comes in at its second terminal is drawn the other way round: both its ends look alike. */
function turned(drawn: Shape, sides: Sides): Shape {
  const isTurned = sides.left.includes('out') && sides.right.includes('in') && drawn.ports.length === 2
  if (!isTurned) return drawn
  return { ...drawn, ports: drawn.ports.map((one) => ({ ...one, name: one.name === 'in' ? 'out' : 'in' })) }
}

/** The box round a symbol and its words; leads run from the body to the box's edges. */
function measured(node: Omit<PlanNode, 'x' | 'y' | 'width' | 'height'>): PlanNode {
  const { shape: body, above, below, rows } = node
  const wide = (lines: readonly string[], letter: number) => Math.max(0, ...lines.map((line) => line.length * letter))
  const isReference = node.role === 'reference'
  const beside = Math.max(0, ...rows.map((row) => (row.words.length + 8) * FIGURE.letter + 10))
  if (isReference) {
    const text = Math.max(wide(below, NAME.letter), 8 * FIGURE.letter) + 6
    const height = 2 * Math.ceil(Math.max(24, below.length * NAME.line + FIGURE.line + 2) / 2)
    return { ...node, x: node.side === 'right' ? text : 0, y: (height - body.height) / 2, width: body.width + text, height }
  }
  const top = above.length * NAME.line + (above.length > 0 ? 2 : 0)
  const words = Math.max(wide(above, NAME.letter), wide(below, node.role === 'ground' ? NAME.letter : FIGURE.letter))
  const width = Math.ceil(Math.max(body.width, words) / 2) * 2 + beside
  return {
    ...node,
    x: node.role === 'ground' ? 0 : (width - beside - body.width) / 2,
    y: top,
    width,
    height: top + body.height + below.length * (node.role === 'ground' ? NAME.line : FIGURE.line) + 2,
  }
}

/** Words on at most `most` lines of so many letters; what does not fit ends in an ellipsis (the whole stands in the title and table). */
export function wrapped(text: string, letters: number, most: number): readonly string[] {
  const lines: string[] = []
  for (const word of text.split(' ')) {
    const last = lines.at(-1)
    if (last !== undefined && `${last} ${word}`.length <= letters) lines[lines.length - 1] = `${last} ${word}`
    else lines.push(shortened(word, letters))
  }
  if (lines.length <= most) return lines
  return [...lines.slice(0, most - 1), shortened(lines.slice(most - 1).join(' '), letters)]
}

export function shortened(text: string, letters: number): string {
  return text.length <= letters ? text : `${text.slice(0, letters - 1).trimEnd()}…`
}
