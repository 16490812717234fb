import { linksOf } from '../../drawing/links.ts'
import { COLOUR_LETTERS, COLOUR_NAMES } from '../../engine/tables/iec-60757-colours.ts'
import type { Component, VehicleDocument } from '../../engine/vehicle.ts'
import type { FormReader } from '../../web/form.ts'
import type { ShownFault } from '../shared/faults.ts'
import { type Option, option } from '../shared/options.ts'
import { endWords } from '../shared/wiring-words.ts'
import { ENDS } from './form.ts'

export type View = {
  readonly at: string
  readonly key: string
  readonly once: string
  readonly faults: readonly ShownFault[]
  readonly colours: readonly Option[]
  readonly stripes: readonly Option[]
  readonly number: string
  readonly ends: readonly { readonly end: string; readonly legend: string; readonly terminal: string; readonly tool: string }[]
  readonly on: string
  readonly title: string
}

/** Shows what was typed; before anything is, what is recorded. */
export function view(given: {
  readonly vehicle: { readonly id: string }
  readonly component: Component
  readonly document: VehicleDocument
  readonly today: string
  readonly once: string
  readonly form: FormReader
  readonly faults: readonly ShownFault[]
}): View {
  const { component, form, document } = given
  const linked = linksOf(document)
  const link = linked.links.find((one) => one.conductor === component.key)
  const shown = (field: string, recorded: string | undefined) => (form.body[field] === undefined ? (recorded ?? '') : form.typed(field))
  return {
    at: marksPath(given.vehicle.id, component.key),
    key: component.key,
    once: given.once,
    faults: given.faults,
    colours: colourOptions(shown('colour', component.colour)),
    stripes: colourOptions(shown('stripe', component.stripe)),
    number: shown('number', component.number),
    ends: ENDS.map((end) => ({
      end,
      legend: link ? `End at ${endWords(linked, end === 'a' ? link.from : link.to)}` : `End ${end}`,
      terminal: shown(`terminal-${end}`, component.fittings?.[end]?.terminal),
      tool: shown(`tool-${end}`, component.fittings?.[end]?.tool),
    })),
    on: form.typed('on') || given.today,
    title: form.typed('title'),
  }
}

function colourOptions(picked: string): readonly Option[] {
  const other = picked === '' || (COLOUR_LETTERS as readonly string[]).includes(picked) ? [] : [option(picked, picked, picked)]
  return [...other, ...COLOUR_LETTERS.map((letters) => option(letters, `${letters}, ${COLOUR_NAMES[letters]}`, picked))]
}

function marksPath(vehicleId: string, key: string): string {
  return `/vehicles/${vehicleId}/components/${key}/marks`
}

export function fieldLabel(field: string): string {
  const labels: Readonly<Record<string, string>> = {
    ...{ colour: 'Colour', stripe: 'Stripe', number: 'Wire number', on: 'When', title: 'Title' },
    ...{
      'terminal-a': 'First end, terminal',
      'tool-a': 'First end, tool',
      'terminal-b': 'Second end, terminal',
      'tool-b': 'Second end, tool',
    },
  }
  return labels[field] ?? field
}
