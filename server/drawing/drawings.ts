/** The wiring drawings that pages ask for, each worked out once for each version of a document. */
import { createHash } from 'node:crypto'
import type { VehicleDocument } from '../engine/vehicle.ts'
import { startLayouts } from './layouts.ts'
import type { Words } from './plan.ts'
import { type Drawing, wiringDrawing } from './wiring-drawing.ts'

export type Drawings = {
  /** `words` must follow from the document alone: the drawing is kept by it. */
  readonly wiring: (document: VehicleDocument, words: Words) => Promise<Drawing>
  readonly close: () => Promise<void>
}

/** Some ten vehicles, each on a few dates. */
const MOST_KEPT = 40

export function startDrawings(): Drawings {
  const layouts = startLayouts()
  const kept = new Map<string, Promise<Drawing>>()
  const versions = new WeakMap<VehicleDocument, string>()
  const versionOf = (document: VehicleDocument) => {
    const known = versions.get(document) ?? createHash('sha256').update(JSON.stringify(document)).digest('base64')
    versions.set(document, known)
    return known
  }
  return {
    wiring(document, words) {
      const version = versionOf(document)
      const known = kept.get(version)
      if (known) return known
      const made = wiringDrawing(document, words, layouts)
      kept.set(version, made)
      // What failed is tried again when it is asked for again.
      made.catch(() => kept.delete(version))
      if (kept.size > MOST_KEPT) kept.delete(kept.keys().next().value as string)
      return made
    },
    close: () => layouts.close(),
  }
}
