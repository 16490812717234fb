/** How it is wired: for each load the way from the source through its fuse and back, and every conductor with its ends. */
import type { Component, Part } from '../../../engine/vehicle.ts'
import { judgedFor } from '../../../records/build-page.ts'
import { solvedOf } from '../../../records/solved.ts'
import { mainFigure } from '../../shared/main-rating.ts'
import { pageOf } from '../../shared/paging.ts'
import { fittingWords, marksWords, terminalWords, wireWords } from '../../shared/wiring-words.ts'
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
    const parts = new Map(document.parts.map((part) => [part.key, part]))
    const partOf = (component: Component | undefined) => parts.get(component?.part ?? '')
    const detail = (component: Component | undefined) => detailOf(component, partOf(component))
    const kindOf = (key: string) => circuit.kindOf(key)
    /** What the end of a conductor is joined to. */
    const placeAt = (end: string) => {
      const others = document.joins.flatMap(({ from, to }) => (from === end ? [to] : to === end ? [from] : []))
      const words = others.map((other) => {
        const [key = '', terminal = ''] = other.split(':')
        return terminalWords({ name: byKey.get(key)?.name ?? '', kind: kindOf(key), terminal })
      })
      return words.length === 0 ? 'not joined' : words.join(', ')
    }
    const step = (key: string): Step => {
      const component = byKey.get(key)
      const isDevice = ['fuse', 'breaker'].includes(kindOf(key))
      return component ? { name: component.name, detail: detail(component), isDevice } : { name: '', detail: '', isDevice }
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
          draws: detail(load) || 'not known',
          protection:
            feed.length === 0
              ? 'No source reaches it in the record.'
              : devices.length === 0
                ? 'No fuse or breaker is recorded on its way.'
                : `Protected by ${devices.map((key) => `${byKey.get(key)?.name ?? ''} (${detail(byKey.get(key)) || 'rating not known'})`).join(', then ')}.`,
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
      conductors: wires.shown.map((wire) => {
        const { crossSection, length, fittings, ...words } = wireWords(wire, partOf(wire) as Part)
        return {
          name: wire.name,
          from: placeAt(`${wire.key}:a`),
          to: placeAt(`${wire.key}:b`),
          size: crossSection || 'not known',
          length: length || 'not known',
          colour: marksWords(words),
          terminals: fittingWords(fittings),
        }
      }),
      conductorCount: wires.count,
      before: { href: wires.before },
      after: { href: wires.after },
    }
  },
})

/** "2.5 mm², 3 m, RD, no. 12": what one asks for at a shop or looks for in a loom. */
function detailOf(component: Component | undefined, part: Part | undefined): string {
  if (!component || !part) return ''
  if (part.kind !== 'conductor') return mainFigure(part)
  const { crossSection, length, ...words } = wireWords(component, part)
  return [crossSection || 'cross-section not known', length || 'length not known', marksWords(words)].filter((one) => one !== '').join(', ')
}
