/** A vehicle's document with what is private left out of its names, for drawings that leave the house: words on them are broken over lines, where nothing could be found any more. */
import type { Component, VehicleDocument } from '../../engine/vehicle.ts'

/** Keys, figures and joins stay. Where nothing is left out it is the very same document. */
export function maskedDocument(document: VehicleDocument, name: (text: string) => string): VehicleDocument {
  const named = <T extends { readonly name: string }>(one: T): T => ({ ...one, name: name(one.name) })
  const masked: VehicleDocument = {
    ...document,
    parts: document.parts.map(named),
    components: document.components.map((one) => maskedComponent(named(one), name)),
    ...(document.zones ? { zones: document.zones.map(named) } : {}),
    ...(document.conditions ? { conditions: document.conditions.map(named) } : {}),
  }
  return JSON.stringify(masked) === JSON.stringify(document) ? document : masked
}

function maskedComponent(component: Component, name: (text: string) => string): Component {
  const { number, position, fittings } = component
  return {
    ...component,
    ...(number === undefined ? {} : { number: name(number) }),
    ...(position === undefined ? {} : { position: name(position) }),
    ...(fittings === undefined
      ? {}
      : {
          fittings: Object.fromEntries(
            Object.entries(fittings).map(([end, { terminal, tool }]) => [
              end,
              { ...(terminal === undefined ? {} : { terminal: name(terminal) }), ...(tool === undefined ? {} : { tool: name(tool) }) },
            ]),
          ),
        }),
  }
}
