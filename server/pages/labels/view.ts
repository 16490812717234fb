import type { Circuit } from '../../engine/circuit.ts'
import { partKind } from '../../engine/parts/index.ts'
import type { VehicleDocument } from '../../engine/vehicle.ts'
import type { ShownFault } from '../shared/faults.ts'
import { mainFigure } from '../shared/main-rating.ts'
import { type Option, option } from '../shared/options.ts'
import { type QrView, qrOf } from '../shared/qr.ts'
import type { Day } from '../shared/vehicle-facts.ts'

export type LabelView = {
  readonly name: string
  readonly what: string
  readonly vehicle: string
  readonly address: string
  /** what a reader that sees no picture is told */
  readonly says: string
  readonly qr: QrView
}
export type View = {
  readonly id: string
  /** YYYY-MM-DD where it is not today's; else empty */
  readonly on: string
  readonly choices: readonly Option[]
  readonly labels: readonly LabelView[]
  readonly count: string
  readonly base: string
  readonly faults: readonly ShownFault[]
}

/** Which components get a label, by kind. */
export const CHOICES = {
  usual: { label: 'Fuse boxes, fuses, relays, batteries', kinds: ['block', 'fuse', 'breaker', 'relay', 'module', 'battery'] },
  boxes: { label: 'Fuse boxes only', kinds: ['block'] },
  places: { label: 'Ground points, splices, connectors', kinds: ['ground-point', 'splice', 'connector'] },
  loads: { label: 'Loads', kinds: ['load', 'pump'] },
  all: { label: 'Everything but wires', kinds: null },
} as const
export type Choice = keyof typeof CHOICES

export function view(given: {
  readonly vehicle: { readonly id: string; readonly name: string }
  readonly document: VehicleDocument
  readonly circuit: Circuit
  readonly choice: Choice
  readonly day: Day
  /** one component alone */
  readonly only: string
  readonly base: string
  readonly faults: readonly ShownFault[]
}): View {
  const { vehicle, circuit, choice, only } = given
  const kinds: readonly string[] | null = CHOICES[choice].kinds
  const chosen = given.document.components.filter(({ key }) => {
    if (only !== '') return key === only
    const kind = circuit.kindOf(key)
    return kinds === null ? kind !== 'conductor' && kind !== 'hose' : kinds.includes(kind)
  })
  const byNumber = new Intl.Collator('en', { numeric: true })
  const labels = chosen
    .map(({ key, name }) => {
      const part = circuit.part(key)
      const kind = partKind(part.kind)?.title ?? part.kind
      const address = `${given.base}/vehicles/${vehicle.id}/components/${key}`
      return labelOf({ name, what: [kind, mainFigure(part)].filter((one) => one !== '').join(', '), vehicle: vehicle.name, address })
    })
    .sort((a, b) => byNumber.compare(a.name, b.name))
  return {
    id: vehicle.id,
    on: given.day.isToday ? '' : given.day.on,
    choices: Object.entries(CHOICES).map(([key, { label }]) => option(key, label, choice)),
    labels,
    count: labels.length === 1 ? '1 label' : `${labels.length} labels`,
    base: given.base,
    faults: given.faults,
  }
}

/** A label for any address, such as a build page's link at the one time that it is shown. */
export function labelOf(given: {
  readonly name: string
  readonly what: string
  readonly vehicle: string
  readonly address: string
}): LabelView {
  return { ...given, says: `Code that opens ${given.name} of ${given.vehicle}`, qr: qrOf(given.address) }
}

export type BuildPageView = { readonly id: string; readonly labels: readonly LabelView[] }

export function buildPageView(given: {
  readonly vehicle: { readonly id: string; readonly name: string }
  readonly link: string
}): BuildPageView {
  const { vehicle, link } = given
  return {
    id: vehicle.id,
    labels: [labelOf({ name: vehicle.name, what: 'Build page: what is fitted and how it is wired', vehicle: vehicle.name, address: link })],
  }
}
