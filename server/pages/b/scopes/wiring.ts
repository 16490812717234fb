/** How it is wired: for each load the way from the source through its fuse and back, and every conductor with its ends. */
import type { Component, VehicleDocument } from '../../../engine/vehicle.ts'
import { judgedFor } from '../../../records/build-page.ts'
import { solvedOf } from '../../../records/solved.ts'
import { figure } from '../../../web/format.ts'
import { mainFigure } from '../../shared/main-rating.ts'
import { pageOf } from '../../shared/paging.ts'
import { defineScope } from '../scope.ts'

type Step = { readonly name: string; readonly detail: string; readonly isDevice: boolean }
export type View = {
  readonly branches: readonly {
    readonly name: string
    readonly draws: string
    readonly protection: string
    readonly feed: readonly Step[]
    readonly back: readonly Step[]
  }[]
  readonly count: string
  readonly earlier: { readonly href: string }
  readonly later: { readonly href: string }
  readonly conductors: readonly {
    readonly name: string
    readonly from: string
    readonly to: string
    readonly size: string
    readonly length: string
    readonly colour: string
    readonly terminals: string
  }[]
  readonly conductorCount: string
  readonly before: { readonly href: string }
  readonly after: { readonly href: string }
}

const BRANCHES = 16
const CONDUCTORS = 40

export const wiring = defineScope({
  id: 'wiring',
  title: 'Wiring',
  says: 'each load with its fuse and its way there and back; every conductor with cross-section, length and colour; drawn, with its currents and its fuse charts',
  presets: ['buyer', 'workshop'],
  template: '/b/wiring',
  view({ db, share, link, query }): View {
    const { document } = judgedFor(db, share)
    const circuit = solvedOf(document)
    const byKey = new Map(document.components.map((component) => [component.key, component]))
    const kindOf = (key: string) => circuit.kindOf(key)
    const step = (key: string): Step => {
      const component = byKey.get(key)
      const isDevice = ['fuse', 'breaker'].includes(kindOf(key))
      return component ? { name: component.name, detail: detailOf(component, document), isDevice } : { name: '', detail: '', isDevice }
    }
    /** The source at the head of a load's way: of several, the one whose way is told. */
    const sourceOf = (load: string) =>
      circuit
        .sourcesOf(load)
        .filter((source) => circuit.feedFrom({ source, load }) === circuit.feedOf(load))
        .slice(0, 1)
    const ofKind = (...kinds: readonly string[]) =>
      document.components
        .filter((one) => kinds.includes(kindOf(one.key)))
        .sort((a, b) => a.name.localeCompare(b.name, 'en', { numeric: true }))
    const page = pageOf(ofKind('load', 'pump'), {
      asked: query.page,
      things: ['branch', 'branches'],
      address: (to) => link('wiring', { page: String(to) }),
      perPage: BRANCHES,
    })
    const wires = pageOf(ofKind('conductor'), {
      asked: query.conductors,
      things: ['conductor', 'conductors'],
      address: (to) => link('wiring', { conductors: String(to) }),
      perPage: CONDUCTORS,
    })
    return {
      branches: page.shown.map((load) => {
        const feed = circuit.feedOf(load.key)
        const devices = feed.filter((key) => ['fuse', 'breaker'].includes(kindOf(key)))
        return {
          name: load.name,
          draws: detailOf(load, document) || 'not known',
          protection:
            feed.length === 0
              ? 'No source reaches it in the record.'
              : devices.length === 0
                ? 'No fuse or breaker is recorded on its way.'
                : `Protected by ${devices.map((key) => `${byKey.get(key)?.name ?? ''} (${detailOf(byKey.get(key), document) || 'rating not known'})`).join(', then ')}.`,
          feed: [...sourceOf(load.key), ...feed.filter((key) => key !== load.key)].map(step),
          back: circuit
            .returnOf(load.key)
            .filter((key) => key !== load.key)
            .map(step),
        }
      }),
      count: page.count,
      earlier: { href: page.before },
      later: { href: page.after },
      conductors: wires.shown.map((wire) => ({
        name: wire.name,
        from: placeAt(`${wire.key}:a`, document, byKey),
        to: placeAt(`${wire.key}:b`, document, byKey),
        size: sizeOf(wire, document) || 'not known',
        length: wire.length_m === undefined ? 'not known' : figure(wire.length_m, 'm'),
        colour: colourOf(wire),
        terminals: Object.entries(wire.fittings ?? {})
          .map(([end, { terminal = '', tool = '' }]) => `${end}: ${[terminal, tool].filter((one) => one !== '').join(', ')}`)
          .join('; '),
      })),
      conductorCount: wires.count,
      before: { href: wires.before },
      after: { href: wires.after },
    }
  },
})

/** "2.5 mm², 3 m, red": what one asks for at a shop or looks for in a loom. */
function detailOf(component: Component | undefined, document: VehicleDocument): string {
  const part = document.parts.find((one) => one.key === component?.part)
  if (!component || !part) return ''
  if (part.kind !== 'conductor') return mainFigure(part)
  const length = component.length_m === undefined ? 'length not known' : figure(component.length_m, 'm')
  return [sizeOf(component, document) || 'cross-section not known', length, colourOf(component)].filter((one) => one !== '').join(', ')
}

function sizeOf(component: Component, document: VehicleDocument): string {
  const part = document.parts.find((one) => one.key === component.part)
  const { crossSection_mm2, size } = part?.ratings ?? {}
  const named = typeof size === 'object' && 'system' in size ? `${size.name} ${size.system}` : ''
  const one = typeof crossSection_mm2 === 'number' ? figure(crossSection_mm2, 'mm2') : named
  return one !== '' && (component.parallel ?? 1) > 1 ? `${component.parallel} × ${one}` : one
}

function colourOf({ colour = '', stripe = '', number = '' }: Component): string {
  return [[colour, stripe].filter((one) => one !== '').join('/'), number === '' ? '' : `no. ${number}`]
    .filter((one) => one !== '')
    .join(', ')
}

/** What the end of a conductor is joined to. */
function placeAt(end: string, document: VehicleDocument, byKey: ReadonlyMap<string, Component>): string {
  const others = document.joins.flatMap(({ from, to }) => (from === end ? [to] : to === end ? [from] : []))
  const words = others.map((other) => {
    const [key = '', terminal = ''] = other.split(':')
    return `${byKey.get(key)?.name ?? ''} ${terminal}`.trim()
  })
  return words.length === 0 ? 'not joined' : words.join(', ')
}
