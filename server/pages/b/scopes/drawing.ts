/** The wiring drawing: its sheets, and the tables that say the same. */
import { identityFor, judgedFor, maskFor } from '../../../records/build-page.ts'
import { maskedDocument } from '../../shared/masked-document.ts'
import { numberedAnchors, type WiringSheets, wiringSheets } from '../../shared/wiring-sheets.ts'
import { drawingWords } from '../../shared/wiring-words.ts'
import { defineScope } from '../scope.ts'

export type View = WiringSheets & { readonly isEmpty: boolean }

export const drawing = defineScope({
  id: 'drawing',
  title: 'Wiring drawing',
  says: 'the circuits on sheets, with standard symbols',
  goesWith: 'wiring',
  presets: [],
  template: '/b/drawing',
  async view({ db, drawings, share, today }): Promise<View> {
    const { name } = maskFor(db, share)
    const document = maskedDocument(judgedFor(db, share).document, name)
    return {
      isEmpty: document.components.length === 0,
      ...wiringSheets({
        vehicle: name(identityFor(db, share).name),
        on: today,
        drawing: await drawings.wiring(document, drawingWords(document)),
        href: () => '',
        anchor: numberedAnchors(),
      }),
    }
  },
})
