/** A document in its one canonical form: fields in a fixed order, absent ones left out, so that equal documents print alike. */
import { fieldsOf } from '../engine/parts/index.ts'
import type { RatingField } from '../engine/parts/part-kind.ts'
import type { Component, Part, Rating, VehicleDocument } from '../engine/vehicle.ts'

const VEHICLE = ['name', 'systemVoltage_V', 'maximum_V', 'reserve_h', 'fuelDemand']
const FUEL_DEMAND = ['power_kW', 'bsfc_gPerkWh', 'fuel', 'density_kgPerL', 'margin']
const ZONE = ['key', 'name', 'ambient_degC', 'peak_degC', 'ingress', 'fuel', 'evidence']
const PLACE = ['length_m', 'parallel', 'bundle', 'setPressure_kPa', 'placement', 'colour', 'stripe', 'number', 'position']
const COMPONENT = ['key', 'name', 'part', 'zone', ...PLACE, 'fittings', 'unfinished']
const JOIN = ['from', 'to', 'resistance_ohm']
const CONDITION = ['key', 'name', 'engine', 'on', 'open', 'charge_A']

/** The document as indented JSON text. */
export function printDocument(document: VehicleDocument): string {
  const { fuelDemand } = document.vehicle
  const printed = {
    format: document.format,
    vehicle: { ...inOrder(document.vehicle, VEHICLE), ...(fuelDemand && { fuelDemand: inOrder(fuelDemand, FUEL_DEMAND) }) },
    asOf: document.asOf,
    zones: document.zones?.map((zone) => inOrder(zone, ZONE)),
    parts: document.parts.map(printPart),
    components: document.components.map(printComponent),
    joins: document.joins.map((join) => inOrder(join, JOIN)),
    conditions: document.conditions?.map((condition) => inOrder(condition, CONDITION)),
  }
  return `${JSON.stringify(printed, null, 2)}\n`
}

function printPart({ key, kind, name, ratings, evidence }: Part): object {
  const fields = fieldsOf(kind)
  const names = fields.map((field) => field.name)
  const printed = Object.fromEntries(
    fields.flatMap((field) => {
      const rating = ratings[field.name]
      return rating === undefined ? [] : [[field.name, printRating(field, rating)]]
    }),
  )
  return { key, kind, name, ratings: printed, ...(evidence && { evidence: inOrder(evidence, names) }) }
}

function printRating(field: RatingField, rating: Rating): unknown {
  if (field.type === 'size') return inOrder(rating as object, ['system', 'name'])
  if (field.type !== 'rows') return rating
  const columns = field.columns.map((column) => column.name)
  return (rating as readonly object[]).map((row) => inOrder(row, columns))
}

function printComponent(component: Component): object {
  const { fittings } = component
  const ends = Object.keys(fittings ?? {}).sort()
  const printed = inOrder(component, COMPONENT)
  if (fittings) printed.fittings = Object.fromEntries(ends.map((end) => [end, inOrder(fittings[end] ?? {}, ['terminal', 'tool'])]))
  return printed
}

function inOrder(given: object, names: readonly string[]): Record<string, unknown> {
  const values = given as Readonly<Record<string, unknown>>
  return Object.fromEntries(names.filter((name) => values[name] !== undefined).map((name) => [name, values[name]]))
}
