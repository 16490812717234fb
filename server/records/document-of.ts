/** From a vehicle's state to the document that the check reads. */
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import type { Component, Condition, Part, VehicleDocument, VehicleFigures } from './engine-types.ts'
import { partsById } from './part-rows.ts'
import { type State, stateOn } from './state.ts'

const months = ['January', 'February', 'March', 'April', 'May', 'June', 'July', 'August', 'September', 'October', 'November', 'December']

export function documentOn(db: Db, actor: Actor, vehicleId: string, on?: string): VehicleDocument {
  return documentOf(stateOn(db, actor, vehicleId, on), partsById(db, actor), on)
}

export function documentOf(state: State, parts: Pick<ReadonlyMap<string, Part>, 'get'>, on: string | undefined): VehicleDocument {
  const texts = unfinishedTexts(state)
  const components = [...state.components.values()].map((component) => marked(component, texts.get(component.key) ?? []))
  const held = [...new Set(components.map((component) => component.part))].map((id) => {
    const part = parts.get(id)
    if (!part) throw new Error(`a component holds the part ${id}, which is not known`)
    return { key: id, kind: part.kind, name: part.name, ratings: part.ratings, evidence: part.evidence ?? {} }
  })
  return {
    format: 'loombook-vehicle/1',
    vehicle: figuresOf(state),
    ...(on === undefined ? {} : { asOf: on }),
    zones: [...state.zones.values()],
    parts: held,
    components,
    joins: [...state.joins.values()],
    ...(state.conditions.size === 0 ? {} : { conditions: [...state.conditions.values()].map((condition) => present(condition, state)) }),
  }
}

/** 2024-05-03 as "3 May". */
export function dayAndMonth(on: string): string {
  const [, month, date] = on.split('-').map(Number)
  return `${date} ${months[(month ?? 1) - 1]}`
}

function unfinishedTexts(state: State): ReadonlyMap<string, string[]> {
  const texts = new Map<string, string[]>()
  for (const { components, since, text } of state.unfinished.values()) {
    const says = `changed on ${dayAndMonth(since)}, wiring not entered yet: ${text}`
    for (const key of components) texts.set(key, [...(texts.get(key) ?? []), says])
  }
  return texts
}

function marked(component: Component, texts: readonly string[]): Component {
  if (texts.length === 0) return component
  return { ...component, unfinished: [...(component.unfinished === undefined ? [] : [component.unfinished]), ...texts].join('; ') }
}

/** What the journal knows of the vehicle besides (its plate, its notes) is no part of the wiring's document. */
function figuresOf(state: State): VehicleFigures {
  const { name, systemVoltage_V, maximum_V, reserve_h, fuelDemand } = state.vehicle
  return {
    name,
    systemVoltage_V,
    ...(maximum_V === undefined ? {} : { maximum_V }),
    ...(reserve_h === undefined ? {} : { reserve_h }),
    ...(fuelDemand === undefined ? {} : { fuelDemand }),
  }
}

/** A condition forgets components that have been taken out. */
function present(condition: Condition, state: State): Condition {
  const here = (keys: readonly string[]): readonly string[] => keys.filter((key) => state.components.has(key))
  return {
    ...condition,
    ...(condition.on === undefined ? {} : { on: here(condition.on) }),
    ...(condition.open === undefined ? {} : { open: here(condition.open) }),
  }
}
