/** The marks form, read into the change it records: what stands on a conductor and what is crimped on its ends. */
import { COLOUR_LETTERS, COLOURS_ALLOWED } from '../../engine/tables/iec-60757-colours.ts'
import type { Component } from '../../engine/vehicle.ts'
import type { Change, Mark, NewEntry } from '../../records/contract.ts'
import type { FormReader } from '../../web/form.ts'
import { onceKeyOf } from '../shared/once.ts'

export const ENDS = ['a', 'b'] as const
type Fittings = Record<string, { terminal?: string; tool?: string }>

/** `component` is the conductor as it stands today: what it says and the form leaves blank is cleared. */
export function readMarks(
  form: FormReader,
  given: { readonly vehicleId: string; readonly component: Component; readonly today: string },
): NewEntry {
  const { component } = given
  const marks = {
    colour: colourFrom(form, 'colour'),
    stripe: colourFrom(form, 'stripe'),
    number: form.text('number', { max: 40 }),
    fittings: fittingsFrom(form),
  }
  if (marks.stripe !== '' && marks.colour === '') form.fault('colour', 'Which colour is the stripe on?')
  const said = {
    ...(marks.colour === '' ? {} : { colour: marks.colour }),
    ...(marks.stripe === '' ? {} : { stripe: marks.stripe }),
    ...(marks.number === '' ? {} : { number: marks.number }),
    ...(Object.keys(marks.fittings).length === 0 ? {} : { fittings: marks.fittings }),
  }
  const cleared = (['colour', 'stripe', 'number', 'fittings'] as const).filter(
    (mark: Mark) => component[mark] !== undefined && !(mark in said),
  )
  if (form.faults.length === 0 && cleared.length === 0 && isSaid(component, said))
    form.fault('', 'Nothing here differs from what is recorded already.')
  const change: Change = { kind: 'described', component: { key: component.key, ...said }, ...(cleared.length === 0 ? {} : { cleared }) }
  return {
    vehicleId: given.vehicleId,
    effectiveOn: form.date('on', { latest: given.today }),
    title: form.text('title', { max: 200 }) || `Marks of ${component.name}`,
    changes: [change],
    ...onceKeyOf(form),
  }
}

/** Letters, or empty. What was recorded before there were letters is offered as it is, and refused here. */
function colourFrom(form: FormReader, field: string): string {
  const typed = form.text(field, { max: 20 })
  if (typed !== '' && !(COLOUR_LETTERS as readonly string[]).includes(typed)) form.fault(field, `“${typed}” is none. ${COLOURS_ALLOWED}`)
  return typed
}

function fittingsFrom(form: FormReader): Fittings {
  const fittings: Fittings = {}
  for (const end of ENDS) {
    const terminal = form.text(`terminal-${end}`, { max: 80 })
    const tool = form.text(`tool-${end}`, { max: 80 })
    if (terminal !== '' || tool !== '') fittings[end] = { ...(terminal === '' ? {} : { terminal }), ...(tool === '' ? {} : { tool }) }
  }
  return fittings
}

function isSaid(component: Component, said: Partial<Pick<Component, Mark>>): boolean {
  const { colour, stripe, number } = component
  const fitted = (fittings: Component['fittings']) =>
    JSON.stringify(ENDS.map((end) => [fittings?.[end]?.terminal ?? '', fittings?.[end]?.tool ?? '']))
  return colour === said.colour && stripe === said.stripe && number === said.number && fitted(component.fittings) === fitted(said.fittings)
}
