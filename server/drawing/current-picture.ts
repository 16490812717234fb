/** The current picture: feed above, return below, lines as thick as the current they carry. Past 200 lines: it is one plate, drawn from top to bottom. */
import type { FeedRow } from '../engine/report.ts'
import { feedNodes, returnNodes, type TreeNode } from './current-tree.ts'
import type { Linked } from './links.ts'
import { wrapped } from './plan.ts'
import { at, escaped, link, text } from './svg.ts'
import { symbolOf } from './symbols.ts'

/** What is told of a component: `figure` is what is written beside it, such as "26.1 A". */
export type CarriedFacts = {
  readonly href: string
  readonly title: string
  readonly name: string
  readonly figure: string
  readonly current_A: number
  /** more may flow than that: something behind it is not known */
  readonly isLeast: boolean
  readonly length_m: number | null
  /** "over", "tight", "unknown", or nothing */
  readonly verdict: string
}

export type Strip = {
  readonly number: number
  readonly svg: string
  readonly shown: readonly string[]
  /** higher than wide: it is printed upright */
  readonly isTall: boolean
}

type Line = { readonly x1: number; readonly y1: number; readonly x2: number; readonly y2: number }
type Rail = { readonly node: TreeNode; readonly depth: number }
/** What flows in a line. */
type Flow = { readonly amperes: number; readonly isLeast: boolean }

type Given = {
  readonly linked: Linked
  readonly rows: readonly FeedRow[]
  readonly facts: (key: string) => CarriedFacts
  readonly title: (strip: number, of: number) => string
  readonly describes: string
}

const PITCH = 104
const COLUMNS = 8
/** Left of the columns: the returns drop there, and their names stand beside; never narrower than the legend's first part. */
const LEAST_GUTTER = 120
const LEAST_WIDTH = 560
const DROP = 30
/** Title and legend stand above. */
const TOP = 92
const LEVEL = 112
const BODY = 44
const RAIL = 46
/** Units of width that the strongest current is drawn with; the thinnest line that can still be seen. */
const THICKEST = 20
const THINNEST = 0.8
/** From a line's edge to the rims that say that more may flow. */
const RIM = 2.6
/** Below this nothing flows that any figure tells. */
export const NOTHING_A = 0.0005
/** Ticks on a conductor, one for each metre; more than these cannot be told apart. */
const MOST_TICKS = 12

/** The picture in strips of as many columns as a sheet is wide. */
export function currentPicture(given: Given): readonly Strip[] {
  const { linked, rows, facts } = given
  const feed = feedNodes(rows, linked)
  const returns = returnNodes(linked, {
    fed: new Set(feed.map((node) => node.component)),
    amperes: (key) => Math.abs(facts(key).current_A),
  })
  const leaves = leavesOf(feed)
  const strongest = Math.max(0.001, ...[...linked.conductors.keys()].map((key) => Math.abs(facts(key).current_A)))
  const count = Math.ceil(leaves.length / COLUMNS)
  const each = Math.ceil(leaves.length / Math.max(1, count))
  return Array.from({ length: count }, (_, n) => {
    const shown = leaves.slice(n * each, (n + 1) * each)
    const plate = new Plate({ ...given, feed, returns, leaves: shown, strongest })
    const { svg, isTall } = plate.drawn({ number: n + 1, of: count })
    return { number: n + 1, svg, shown: [...plate.shown], isTall }
  })
}

/** Rows that feed nothing further, in the order of the feed. */
function leavesOf(feed: readonly TreeNode[]): readonly string[] {
  const parents = new Set(feed.map((node) => node.parent))
  return feed.filter((node) => !parents.has(node.component)).map((node) => node.component)
}

class Plate {
  readonly shown = new Set<string>()
  private readonly given: Given & {
    readonly feed: readonly TreeNode[]
    readonly returns: readonly TreeNode[]
    readonly leaves: readonly string[]
    readonly strongest: number
  }
  private readonly feedOf: ReadonlyMap<string, TreeNode>
  private readonly returnOf: ReadonlyMap<string, TreeNode>
  private readonly columnOf = new Map<string, number>()
  private readonly out: string[] = []

  constructor(given: Plate['given']) {
    this.given = given
    this.feedOf = new Map(given.feed.map((node) => [node.component, node]))
    this.returnOf = new Map(given.returns.map((node) => [node.component, node]))
  }

  drawn(sheet: { readonly number: number; readonly of: number }): { readonly svg: string; readonly isTall: boolean } {
    const { leaves } = this.given
    const order = this.railsInOrder()
    const left = Math.max(LEAST_GUTTER, ...order.map(({ node }) => this.railWords(node.component, order.length).right + 40))
    leaves.forEach((key, n) => {
      this.columnOf.set(key, left + n * PITCH + 22)
    })
    const members = new Map<string, string[]>()
    for (const leaf of leaves)
      for (let key: string | null = leaf; key !== null; key = this.feedOf.get(key)?.parent ?? null)
        members.set(key, [...(members.get(key) ?? []), leaf])
    for (const [key, those] of members)
      if (!this.columnOf.has(key)) this.columnOf.set(key, middle(those.map((leaf) => this.columnOf.get(leaf) as number)))
    const depth = Math.max(...leaves.map((leaf) => this.depthOf(leaf)))
    for (const key of members.keys()) this.feedNode(key, members)
    const bottom = this.rails(order, TOP + depth * LEVEL + BODY + 40)
    const width = Math.max(LEAST_WIDTH, left + leaves.length * PITCH + 20)
    const id = `strip-${sheet.number}`
    const title = this.given.title(sheet.number, sheet.of)
    const svg = [
      `<svg class="drawing" role="group" aria-labelledby="${id}-title ${id}-desc" viewBox="0 0 ${at(width)} ${at(bottom)}" width="${at(width)}" height="${at(bottom)}" fill="none" stroke="currentColor" stroke-width="1.3">`,
      `<title id="${id}-title">${escaped(title)}</title><desc id="${id}-desc">${escaped(this.given.describes)}</desc>`,
      this.legend(title),
      ...this.out,
      '</svg>',
    ].join('')
    return { svg, isTall: bottom > width }
  }

  /** What the picture is of, and what its kinds of line mean: on paper it stands without its page. */
  private legend(title: string): string {
    const { strongest } = this.given
    const y = 38
    const samples = [
      { flow: { amperes: strongest, isLeast: false }, words: `${Number(strongest.toPrecision(3))} A` },
      { flow: { amperes: strongest / 4, isLeast: true }, words: 'at least so much' },
      { flow: { amperes: 0, isLeast: true }, words: 'not known' },
      { flow: { amperes: 0, isLeast: false }, words: 'nothing' },
    ]
    let x = 18
    const lines = samples.map(({ flow, words }) => {
      // A line's square ends stand out by half its thickness.
      const from = x + this.thickness(flow.amperes) / 2
      const wordsAt = from + 30 + this.thickness(flow.amperes) / 2 + 8
      x = wordsAt + words.length * 6.5 + 24
      return `${this.lineSvg({ x1: from, y1: y, x2: from + 30, y2: y }, flow)}${text({ x: wordsAt, y: y + 4, words, look: 'name', anchor: 'start' })}`
    })
    return `<g class="strip" aria-hidden="true">${text({ x: 18, y: 16, words: title, look: 'name', anchor: 'start' })}${lines.join('')}</g>`
  }

  private depthOf(key: string): number {
    const parent = this.feedOf.get(key)?.parent ?? null
    return parent === null ? 0 : 1 + this.depthOf(parent)
  }

  private top(key: string): number {
    return TOP + this.depthOf(key) * LEVEL
  }

  /** A node, the line down to it, and the bar that its own children leave from. */
  private feedNode(key: string, members: ReadonlyMap<string, readonly string[]>): void {
    const node = this.feedOf.get(key) as TreeNode
    const x = this.columnOf.get(key) as number
    const y = this.top(key)
    if (node.parent !== null) this.line(node.through, { x, from: y - LEVEL + BODY + 14, to: y, key })
    const children = [...members.keys()].filter((one) => this.feedOf.get(one)?.parent === key)
    if (children.length > 0) {
      const points = children.map((child) => ({ x: this.columnOf.get(child) as number, flow: this.inflow(child) }))
      this.stroke({ x1: x, y1: y + BODY, x2: x, y2: y + BODY + 14 }, together(points.map((point) => point.flow)))
      this.bar(points, { x, y: y + BODY + 14 })
    }
    this.symbol(key, { x, y })
  }

  /** What a row passes on to this one: its line's own current. */
  private inflow(key: string): Flow {
    return this.flowOf(this.feedOf.get(key)?.through.at(-1) ?? key)
  }

  private flowOf(key: string): Flow {
    const { current_A, isLeast } = this.given.facts(key)
    return { amperes: Math.abs(current_A), isLeast }
  }

  /** A horizontal bar in pieces, each as thick as what flows in it towards or from `x`. */
  private bar(points: readonly { readonly x: number; readonly flow: Flow }[], { x, y }: { readonly x: number; readonly y: number }): void {
    const xs = [...new Set([x, ...points.map((point) => point.x)])].sort((a, b) => a - b)
    for (const [n, left] of xs.slice(0, -1).entries()) {
      const right = xs[n + 1] as number
      const beyond = points.filter((point) => (left >= x ? point.x >= right : point.x <= left))
      this.stroke({ x1: left, y1: y, x2: right, y2: y }, together(beyond.map((point) => point.flow)))
    }
  }

  private stroke(line: Line, flow: Flow): void {
    this.out.push(this.lineSvg(line, flow))
  }

  private thickness(amperes: number): number {
    return amperes < NOTHING_A ? 0 : Math.max(THINNEST, (amperes / this.given.strongest) * THICKEST)
  }

  /**
   * A line across or down. As thick as its current; dashed where nothing flows; between two rims where at least that much flows; the rims
   * alone where nothing is known of it. So each is told by its shape.
   */
  private lineSvg({ x1, y1, x2, y2 }: Line, { amperes, isLeast }: Flow): string {
    const isDown = x1 === x2
    const to = isDown ? `V${at(y2)}` : `H${at(x2)}`
    const thick = this.thickness(amperes)
    const core =
      thick > 0
        ? `<path d="M${at(x1)} ${at(y1)}${to}" stroke-width="${at(thick)}" stroke-linecap="square"/>`
        : isLeast
          ? ''
          : `<path d="M${at(x1)} ${at(y1)}${to}" stroke-width="${THINNEST}" stroke-dasharray="3 3"/>`
    if (!isLeast) return core
    const off = thick / 2 + RIM
    const rims = [-off, off].map((by) => `M${at(isDown ? x1 + by : x1)} ${at(isDown ? y1 : y1 + by)}${to}`).join('')
    return `${core}<path class="rim" d="${rims}" stroke-width="${THINNEST}"/>`
  }

  /** The conductors of a vertical line one after the other, with a tick for each metre, and their terminals' names. */
  private line(
    through: readonly string[],
    { x, from, to, key }: { readonly x: number; readonly from: number; readonly to: number; readonly key: string },
  ): void {
    if (through.length === 0) {
      this.stroke({ x1: x, y1: from, x2: x, y2: to }, this.flowOf(key))
      return
    }
    const step = (to - from) / through.length
    through.forEach((conductor, n) => {
      const [y1, y2] = [from + n * step, from + (n + 1) * step]
      const { href, title, length_m } = this.given.facts(conductor)
      const flow = this.flowOf(conductor)
      const half = Math.max(THINNEST, this.thickness(flow.amperes)) / 2 + 4 + (flow.isLeast ? RIM : 0)
      const metres = Math.min(MOST_TICKS, Math.floor(length_m ?? 0))
      const ticks = Array.from(
        { length: metres },
        (_, m) => `M${at(x - half)} ${at(y1 + ((m + 1) * (y2 - y1)) / (metres + 1))}H${at(x + half)}`,
      ).join('')
      const length =
        length_m === null || !this.isColumn(x)
          ? ''
          : text({ x: x + half + 3, y: (y1 + y2) / 2 + 3, words: `${length_m} m`, look: 'figure', anchor: 'start' })
      const inside = `<rect class="touch" x="${at(x - 12)}" y="${at(y1)}" width="24" height="${at(Math.max(24, y2 - y1))}" stroke="none"/>${this.lineSvg({ x1: x, y1, x2: x, y2 }, flow)}${ticks ? `<path d="${ticks}" stroke-width=".8"/>` : ''}${length}`
      this.out.push(link({ href, title, look: 'wire', id: '', inside }))
      this.shown.add(conductor)
      this.terminal(conductor, key, { x: x - half - 2, y: y2 - 2 })
    })
  }

  /** Beside the drops on the left there is no room for words. */
  private isColumn(x: number): boolean {
    return x >= Math.min(...this.columnOf.values())
  }

  /** The number of the terminal that a conductor ends at, where it is one worth telling. */
  private terminal(conductor: string, key: string, place: { readonly x: number; readonly y: number }): void {
    const found = this.given.linked.links.find((one) => one.conductor === conductor)
    const end = [found?.from, found?.to].find((one) => one?.component === key)
    const kind = this.given.linked.symbols.get(key)?.part.kind ?? ''
    if (!end || ['splice', 'chassis', 'ground-point', 'fuse', 'breaker'].includes(kind)) return
    this.out.push(text({ ...place, words: end.terminal === '-' ? '−' : end.terminal, look: 'terminal', anchor: 'end' }))
  }

  /** A symbol turned so that the current comes in on top, its name and figure beside it. */
  private symbol(key: string, { x, y }: { readonly x: number; readonly y: number }): void {
    const { part } = this.given.linked.symbols.get(key) ?? {}
    if (!part) return
    const { href, title, name, figure, verdict } = this.given.facts(key)
    const drawn = symbolOf({ kind: part.kind, ratings: part.ratings, sides: { left: ['in'], right: ['out'] } })
    const isSource = ['battery', 'alternator', 'charger'].includes(part.kind)
    const isPlace = ['block', 'splice'].includes(part.kind)
    const enters = drawn.ports.find((one) => one.side === 'left')
    const scale = Math.min(1, BODY / drawn.width)
    const turn = isSource
      ? `translate(${at(x - drawn.width - 6)} ${at(y + 2)})`
      : `translate(${at(x)} ${at(y + (BODY - drawn.width * scale) / 2)}) scale(${scale.toFixed(2)}) rotate(90) translate(0 ${-(enters?.y ?? drawn.height / 2)})`
    const body = isPlace
      ? `<path d="M${at(x)} ${at(y)}V${at(y + BODY)}"/><path d="M${at(x - 16)} ${at(y + 19)}h32v6h-32z" fill="currentColor" stroke="none"/>`
      : [
          isSource
            ? `<path d="M${at(x - 6)} ${at(y + 10)}H${at(x)}V${at(y + BODY)}"/>`
            : `<path d="M${at(x)} ${at(y)}v${at((BODY - drawn.width * scale) / 2)}M${at(x)} ${at(y + BODY)}v${at(-(BODY - drawn.width * scale) / 2)}"/>`,
          `<g transform="${turn}"><path d="${drawn.lines}"/>${drawn.filled ? `<path d="${drawn.filled}" fill="currentColor" stroke="none"/>` : ''}${drawn.dashed ? `<path d="${drawn.dashed}" stroke-dasharray="3 2"/>` : ''}</g>`,
          ...drawn.letters.map((one) =>
            text({
              x: isSource ? x - drawn.width - 6 + one.x : x,
              y: isSource ? y + 2 + one.y : y + BODY / 2 + 4.5,
              words: one.text,
              look: 'letter',
              anchor: 'middle',
            }),
          ),
        ].join('')
    const lines = wrapped(name, 11, 3)
    const first = y + 12
    const words = [
      ...lines.map((one, n) => text({ x: x + 26, y: first + n * 12, words: one, look: 'name', anchor: 'start' })),
      text({ x: x + 26, y: first + lines.length * 12, words: figure, look: 'figure', anchor: 'start' }),
      verdict === '' ? '' : verdictMark(verdict, { x: x + 26, y: first + (lines.length + 1) * 12 }),
    ].join('')
    const left = isSource ? x - drawn.width - 8 : x - 20
    const touch = `<rect class="touch" x="${at(left)}" y="${at(y)}" width="${at(x + 96 - left)}" height="${at(Math.max(BODY, (lines.length + 2) * 12))}" stroke="none"/>`
    this.out.push(link({ href, title, look: 'symbol', id: '', inside: `${touch}${body}${words}` }))
    this.shown.add(key)
  }

  /** Each place that wires of this strip come back to is a rail; deeper ones come first. */
  private railsInOrder(): readonly Rail[] {
    const used = new Map<string, Rail>()
    const depthOf = (key: string): number => {
      const parent = this.returnOf.get(key)?.parent ?? null
      return parent === null ? 0 : 1 + depthOf(parent)
    }
    for (const leaf of this.returning())
      for (let key = this.returnOf.get(leaf)?.parent ?? null; key !== null; key = this.returnOf.get(key)?.parent ?? null)
        used.set(key, { node: this.returnOf.get(key) as TreeNode, depth: depthOf(key) })
    return [...used.values()].sort((a, b) => b.depth - a.depth || (a.node.component < b.node.component ? -1 : 1))
  }

  private returning(): readonly string[] {
    return this.given.leaves.filter((leaf) => this.returnOf.get(leaf)?.parent != null)
  }

  /** Where the words of a rail stand. */
  private railWords(key: string, rails: number) {
    const { name, figure, verdict } = this.given.facts(key)
    const left = 18 + rails * DROP
    const figureAt = left + name.length * 6.5 + 8
    const verdictAt = figureAt + figure.length * 6.1 + 10
    return { left, figureAt, verdictAt, right: verdict === '' ? verdictAt - 10 : verdictAt + 12 + verdict.length * 6.5 }
  }

  /** The return: rails one below the other, each dropping at the left to the one it returns to. Answers the bottom. */
  private rails(order: readonly Rail[], from: number): number {
    const returning = this.returning()
    const yOf = new Map(order.map(({ node }, n) => [node.component, from + 26 + n * RAIL]))
    const dropOf = new Map(order.map(({ node }, n) => [node.component, 18 + n * DROP]))
    const sum = new Map<string, Flow>()
    for (const { node } of order) {
      const key = node.component
      const y = yOf.get(key) as number
      const leaves = returning.filter((leaf) => this.returnOf.get(leaf)?.parent === key)
      const points = [
        ...leaves.map((leaf) => ({ x: this.columnOf.get(leaf) as number, flow: this.flowOf(leaf) })),
        ...order
          .filter((one) => one.node.parent === key)
          .map((one) => ({
            x: dropOf.get(one.node.component) as number,
            flow: sum.get(one.node.component) ?? { amperes: 0, isLeast: false },
          })),
      ]
      const all = together(points.map((point) => point.flow))
      sum.set(key, all)
      this.bar(points, { x: dropOf.get(key) as number, y })
      for (const leaf of leaves)
        this.line(this.returnOf.get(leaf)?.through ?? [], {
          x: this.columnOf.get(leaf) as number,
          from: this.top(leaf) + BODY,
          to: y,
          key: leaf,
        })
      const { href, title, name, figure, verdict } = this.given.facts(key)
      const { left, figureAt, verdictAt, right } = this.railWords(key, order.length)
      const line = y - Math.max(10, this.thickness(all.amperes) / 2 + RIM + 5)
      const words = `${text({ x: left, y: line, words: name, look: 'name', anchor: 'start' })}${text({ x: figureAt, y: line, words: figure, look: 'figure', anchor: 'start' })}`
      const mark = verdict === '' ? '' : verdictMark(verdict, { x: verdictAt, y: line })
      this.out.push(
        link({
          href,
          title,
          look: 'symbol',
          id: '',
          inside: `<rect class="touch" x="${at(left - 4)}" y="${at(line - 16)}" width="${at(Math.max(24, right - left + 8))}" height="24" stroke="none"/>${words}${mark}`,
        }),
      )
      this.shown.add(key)
    }
    for (const { node } of order) {
      if (node.parent === null) continue
      const x = dropOf.get(node.component) as number
      this.line(node.through, { x, from: yOf.get(node.component) as number, to: yOf.get(node.parent) as number, key: node.component })
    }
    return from + 26 + order.length * RAIL
  }
}

/** What flows where several lines come together. */
function together(flows: readonly Flow[]): Flow {
  return { amperes: flows.reduce((sum, flow) => sum + flow.amperes, 0), isLeast: flows.some((flow) => flow.isLeast) }
}

/** The word, after its shape: a triangle on its point, one half filled, an open ring with a gap. */
function verdictMark(verdict: string, { x, y }: { readonly x: number; readonly y: number }): string {
  const shapes: Readonly<Record<string, string>> = {
    over: `<path class="mark" d="M${at(x)} ${at(y - 8)}h9l-4.5 8z" fill="currentColor" stroke="none"/>`,
    tight: `<path class="mark" d="M${at(x)} ${at(y - 8)}h9l-4.5 8z" stroke-width="1"/><path class="mark" d="M${at(x)} ${at(y - 8)}h4.5v8z" fill="currentColor" stroke="none"/>`,
    unknown: `<path class="mark" d="M${at(x + 6)} ${at(y - 7)}a3.5 3.5 0 1 0 1.5 3" stroke-width="1.2"/>`,
  }
  return `<g class="verdict ${verdict}">${shapes[verdict] ?? ''}${text({ x: x + 12, y, words: verdict, look: 'name', anchor: 'start' })}</g>`
}

function middle(values: readonly number[]): number {
  return (Math.min(...values) + Math.max(...values)) / 2
}
