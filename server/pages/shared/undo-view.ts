/** The last save of whoever is looking, and the one press that undoes it. */
import type { LastSave } from '../../records/versions.ts'

export type UndoView = { readonly action: string; readonly label: string; readonly words: string }

export function undoView(last: LastSave | null): UndoView | null {
  if (!last) return null
  const to = (noun: string) => `/entries/${last.entryId}/${noun}`
  switch (last.undo) {
    case 'withdraw':
      return { action: to('withdrawals'), label: 'Undo the last save', words: `You saved “${last.title}” last.` }
    case 'earlier-version':
      return { action: to('earlier-versions'), label: 'Undo the last save', words: `You corrected “${last.title}” last.` }
    case 'bring-back':
      return { action: to('restorations'), label: 'Bring it back', words: `You withdrew “${last.title}” last.` }
  }
}
