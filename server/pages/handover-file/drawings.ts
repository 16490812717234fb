/** The sheets of the vehicle's wiring drawing. References lead to each other; nothing leads out of the file. */
import type { FastifyInstance } from 'fastify'
import { maskedDocument } from '../shared/masked-document.ts'
import { numberedAnchors, wiringSheets } from '../shared/wiring-sheets.ts'
import { drawingWords } from '../shared/wiring-words.ts'
import type { Facts } from './facts.ts'

export async function drawingsOf(
  app: FastifyInstance,
  given: Pick<Facts, 'vehicle' | 'document' | 'on' | 'mask'>,
): Promise<Facts['drawings']> {
  const { vehicle, on, mask } = given
  if (given.document.components.length === 0) return []
  const document = maskedDocument(given.document, mask.name)
  const drawing = await app.drawings.wiring(document, drawingWords(document))
  const { sheets } = wiringSheets({ vehicle: vehicle.name, on, drawing, href: () => '', anchor: numberedAnchors() })
  return sheets.map(({ number, title, svg }) => ({ title: `Sheet ${number} of ${sheets.length}: ${title}`, svg }))
}
