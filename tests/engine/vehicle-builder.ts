/** Small circuits for the tests: a battery, a fused wire, a contact and a load, each figure set by the test. */
import type { Finding } from '../../server/engine/report.ts'
import { checkVehicle } from '../../server/engine/rules/check.ts'
import type { Component, Condition, Join, Part, Ratings, VehicleDocument } from '../../server/engine/vehicle.ts'

export type Given = {
  readonly battery?: Ratings
  readonly wire?: Ratings
  readonly fuse?: Ratings
  readonly relay?: Ratings
  readonly load?: Ratings
  readonly back?: Ratings
  readonly length_m?: number
  readonly ambient_degC?: number | null
  readonly conditions?: readonly Condition[]
  readonly extraParts?: readonly Part[]
  readonly extraComponents?: readonly Component[]
  readonly extraJoins?: readonly Join[]
  readonly wireMore?: Partial<Component>
  readonly system_V?: number
}

/** battery → fuse → wire → relay (no coil) → load → return wire → battery. */
export function vehicle(given: Given): VehicleDocument {
  const part = (key: string, kind: string, ratings: Ratings): Part => ({
    key,
    kind,
    name: key,
    ratings,
    evidence: Object.fromEntries(Object.keys(ratings).map((name) => [name, 'datasheet' as const])),
  })
  const wire = { material: 'copper', crossSection_mm2: 4, insulation_degC: 105 }
  return {
    format: 'loombook-vehicle/1',
    vehicle: { name: 'bench', systemVoltage_V: given.system_V ?? 12 },
    zones: [
      {
        key: 'z',
        name: 'zone',
        ...(given.ambient_degC === null ? {} : { ambient_degC: given.ambient_degC ?? 25 }),
        evidence: given.ambient_degC === null ? {} : { ambient_degC: 'measured' },
      },
    ],
    parts: [
      part('battery', 'battery', given.battery ?? { openCircuit_V: 12, internalResistance_ohm: 0.001, nominal_V: given.system_V ?? 12 }),
      part('fuse', 'fuse', given.fuse ?? { rated_A: 20, rated_V: 32, form: 'C', resistance_ohm: 0.001 }),
      part('wire', 'conductor', given.wire ?? wire),
      part('back', 'conductor', given.back ?? given.wire ?? wire),
      part('relay', 'relay', given.relay ?? { make_A: 30, rated_V: 16, contactResistance_ohm: 0.001 }),
      part('load', 'load', given.load ?? { behaviour: 'current', current_A: 10, rated_V: 12 }),
      ...(given.extraParts ?? []),
    ],
    components: [
      { key: 'bat', name: 'Battery', part: 'battery', zone: 'z' },
      { key: 'f1', name: 'Fuse F1', part: 'fuse', zone: 'z' },
      { key: 'w1', name: 'Wire W1', part: 'wire', zone: 'z', length_m: given.length_m ?? 1, ...given.wireMore },
      { key: 'r1', name: 'Relay R1', part: 'relay', zone: 'z' },
      { key: 'l1', name: 'Lamp', part: 'load', zone: 'z' },
      { key: 'g1', name: 'Return wire', part: 'back', zone: 'z', length_m: given.length_m ?? 1 },
      ...(given.extraComponents ?? []),
    ],
    joins: [
      { from: 'bat:+', to: 'f1:in' },
      { from: 'f1:out', to: 'w1:a' },
      { from: 'w1:b', to: 'r1:30' },
      { from: 'r1:87', to: 'l1:+' },
      { from: 'l1:-', to: 'g1:a' },
      { from: 'g1:b', to: 'bat:-' },
      ...(given.extraJoins ?? []),
    ],
    ...(given.conditions ? { conditions: given.conditions } : {}),
  }
}

export function finding(document: VehicleDocument, rule: string, component: string): Finding | undefined {
  return checkVehicle(document).findings.find((one) => one.rule === rule && one.component === component)
}
