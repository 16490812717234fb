/** What was done: the entries that stand, newest first. */
import { currencyFor, journalFor } from '../../../records/build-page.ts'
import { dateWords, kilometres } from '../../../web/format.ts'
import { moneyWords } from '../../shared/money-words.ts'
import { pageOf } from '../../shared/paging.ts'
import { defineScope } from '../scope.ts'

export type View = {
  readonly count: string
  readonly since: string
  readonly earlier: { readonly href: string }
  readonly later: { readonly href: string }
  readonly entries: readonly {
    readonly when: string
    readonly title: string
    readonly text: string
    readonly done: readonly string[]
    readonly more: string
    readonly note: string
  }[]
}

const PER_PAGE = 25
const MOST_DONE = 12

export const journal = defineScope({
  id: 'journal',
  title: 'Journal',
  says: 'what was done and when, in the words of its entries, from a day on',
  presets: ['buyer', 'workshop'],
  template: '/b/journal',
  view({ db, share, link, query }): View {
    const { shown, count, before, after } = pageOf(journalFor(db, share), {
      asked: query.page,
      things: ['entry', 'entries'],
      address: (page) => link('journal', { page: String(page) }),
      perPage: PER_PAGE,
    })
    const { journalFrom } = share.shows
    const currency = currencyFor(db, share)
    return {
      count,
      since: journalFrom === null ? '' : `Work before ${dateWords(journalFrom)} is not shown here.`,
      earlier: { href: before },
      later: { href: after },
      entries: shown.map(({ on, title, text, odometer_km, sentences, by, cost_minor }) => ({
        when: dateWords(on),
        title,
        text,
        done: sentences.slice(0, MOST_DONE),
        more: sentences.length > MOST_DONE ? `and ${sentences.length - MOST_DONE} more of the kind` : '',
        note: [
          odometer_km === null ? '' : kilometres(odometer_km),
          cost_minor === null ? '' : moneyWords(cost_minor, currency),
          by === '' ? '' : `by ${by}`,
        ]
          .filter((one) => one !== '')
          .join(', '),
      })),
    }
  },
})
