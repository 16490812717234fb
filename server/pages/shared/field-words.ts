/** What is said of a component, a zone, a condition or a vehicle, in words: exact figures, so that no two read alike. */
import { unitWord } from '../../web/format.ts'

const LABELS: Readonly<Record<string, string>> = {
  length_m: 'length',
  parallel: 'side by side',
  bundle: 'wires in its bundle',
  setPressure_kPa: 'set pressure',
  placement: 'where it is placed',
  stripe: 'second colour',
  fittings: 'terminals crimped on',
  unfinished: 'left open',
  systemVoltage_V: 'system voltage',
  maximum_V: 'highest voltage',
  reserve_h: 'hours to stand',
  fuelDemand: 'fuel demand',
  ambient_degC: 'ambient temperature',
  peak_degC: 'peak temperature',
  resistance_ohm: 'resistance',
  charge_A: 'charge',
}
const UNITS = ['m', 'V', 'A', 'h', 'kPa', 'degC', 'ohm', 'mm2', 'km']

export function fieldLabel(field: string): string {
  const [name = field] = field.split('_')
  return (
    LABELS[field] ?? (unitOf(field) === '' ? field : name).replaceAll(/[A-Z]/g, (letter) => ` ${letter.toLowerCase()}`).replaceAll('-', ' ')
  )
}

export function fieldValue(field: string, value: unknown, zone: (key: string) => string): string {
  if (value === null || value === undefined) return 'not said'
  if (field === 'zone' && typeof value === 'string') return zone(value)
  if (typeof value === 'number') return unitOf(field) === '' ? String(value) : `${value} ${unitWord(unitOf(field))}`
  if (Array.isArray(value)) return value.length === 0 ? 'none' : value.map((one) => fieldValue('', one, zone)).join(', ')
  if (typeof value === 'object')
    return Object.entries(value)
      .map(([key, one]) => `${fieldLabel(key)} ${fieldValue(key, one, zone)}`)
      .join(', ')
  return String(value)
}

function unitOf(field: string): string {
  const unit = field.slice(field.lastIndexOf('_') + 1)
  return field.includes('_') && UNITS.includes(unit) ? unit : ''
}
