/** The sheets of a wiring drawing, and in tables what they say: for the drawing's own page, the handover file and build pages. */
import { sheetSvg, type Told } from '../../drawing/sheet-svg.ts'
import type { Sheet } from '../../drawing/sheets.ts'
import type { Drawing } from '../../drawing/wiring-drawing.ts'
import type { Component } from '../../engine/vehicle.ts'
import { dateWords } from '../../web/format.ts'
import { crossSection_mm2, endWords, fittingWords, partWords, wireWords } from './wiring-words.ts'

type Named = { readonly name: string; readonly href: string }
export type WiringSheets = {
  readonly sheets: readonly { readonly number: string; readonly title: string; readonly svg: string }[]
  readonly conductors: readonly (Named & {
    readonly key: string
    readonly number: string
    readonly from: string
    readonly to: string
    readonly crossSection: string
    readonly colour: string
    readonly length: string
    readonly fittings: string
    readonly place: string
  })[]
  readonly symbols: readonly (Named & { readonly what: string; readonly place: string })[]
  readonly ties: readonly { readonly from: string; readonly to: string }[]
}

const HEAVY_mm2 = 10

export function wiringSheets(given: {
  readonly vehicle: string
  /** YYYY-MM-DD */
  readonly on: string
  readonly drawing: Drawing
  /** a component's page; empty where there is none */
  readonly href: (key: string) => string
  readonly anchor: (node: string) => string
}): WiringSheets {
  const { drawing, href, anchor } = given
  const { linked } = drawing
  const place = (key: string) => drawing.placeOf.get(key) ?? ''
  const linkOf = new Map(linked.links.flatMap((link) => (link.conductor === null ? [] : [[link.conductor, link] as const])))
  const conductors = [...linked.conductors].map(([key, { component, part }]) => {
    const words = wireWords(component, part)
    const link = linkOf.get(key)
    return {
      key,
      name: component.name,
      href: href(key),
      ...{ number: words.number, crossSection: words.crossSection, colour: words.colour, length: words.length },
      from: link ? endWords(linked, link.from) : '',
      to: link ? endWords(linked, link.to) : '',
      fittings: fittingWords(words.fittings),
      place: place(key),
    }
  })
  const byKey = new Map(conductors.map((one) => [one.key, one]))
  const told: Told = {
    symbol: (key) => {
      const known = linked.symbols.get(key)
      return { href: href(key), title: known ? `${known.component.name}: ${partWords(known.part)}` : '' }
    },
    wire: (key) => {
      const one = byKey.get(key)
      const known = linked.conductors.get(key)
      if (!one || !known) return { href: href(key), title: '', isHeavy: false }
      const facts = [one.number, one.crossSection, one.colour, one.length, one.fittings].filter((words) => words !== '')
      const title = `${one.name}: ${[`from ${one.from} to ${one.to}`, ...facts].join('; ')}`
      return { href: one.href, title, isHeavy: (crossSection_mm2(known.part) ?? 0) >= HEAVY_mm2 }
    },
    tie: (n) => {
      const link = linked.links[n]
      return link ? `${endWords(linked, link.from)} to ${endWords(linked, link.to)}` : ''
    },
    anchor,
  }
  const date = dateWords(given.on)
  const sheets = drawing.sheets.map((sheet) => {
    const title = sheetTitle(sheet, linked.symbols)
    const heading = { vehicle: given.vehicle, what: 'Wiring drawing', title, date, describes: describes(sheet, title) }
    return { number: String(sheet.number), title, svg: sheetSvg({ drawing, sheet, told, heading }) }
  })
  return {
    sheets,
    conductors: conductors.sort((a, b) => a.place.localeCompare(b.place, 'en', { numeric: true })),
    symbols: [...linked.symbols]
      .map(([key, { component, part }]) => ({ name: component.name, href: href(key), what: partWords(part), place: place(key) }))
      .sort((a, b) => a.name.localeCompare(b.name, 'en', { numeric: true })),
    ties: linked.links
      .filter((link) => link.conductor === null)
      .map((link) => ({ from: endWords(linked, link.from), to: endWords(linked, link.to) }))
      .sort((a, b) => a.from.localeCompare(b.from, 'en', { numeric: true })),
  }
}

/** Ids of nodes by their number alone: a component's key is made from its name, which is not for every reader. */
export function numberedAnchors(): (node: string) => string {
  const known = new Map<string, string>()
  return (node) => {
    const id = known.get(node) ?? `at-${known.size + 1}`
    known.set(node, id)
    return id
  }
}

/** "Supply and grounds", and the fuses whose circuits it holds. */
function sheetTitle(sheet: Sheet, symbols: Drawing['linked']['symbols']): string {
  const isSupply = sheet.pieces.some((piece) => piece.sort === 'supply' || piece.sort === 'ground')
  const devices = sheet.pieces
    .filter((piece) => piece.sort === 'circuit')
    .flatMap((piece) => piece.members)
    .flatMap((key) => symbols.get(key) ?? [])
    .filter(({ part }) => part.kind === 'fuse' || part.kind === 'breaker')
    .map(({ component }: { component: Component }) => component.name)
  const circuits =
    devices.length > 0 ? `circuits of ${devices.join(', ')}` : sheet.pieces.some((one) => one.sort === 'circuit') ? 'circuits' : ''
  const words = [isSupply ? 'supply and grounds' : '', circuits].filter((one) => one !== '').join('; ') || 'what is joined to nothing'
  return `${words.slice(0, 1).toUpperCase()}${words.slice(1)}`
}

function describes(sheet: Sheet, title: string): string {
  const symbols = sheet.pieces.flatMap((piece) => piece.nodes).filter((node) => node.role === 'symbol').length
  const wires = sheet.pieces.flatMap((piece) => piece.wires).filter((wire) => wire.conductor !== null).length
  return `${title}. ${symbols} components and ${wires} conductors, the feed from left to right. The tables below say the same in words.`
}
