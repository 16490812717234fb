/** The journal as an Atom feed (RFC 4287): the day, the title and the vehicle of each entry, under ids that stay. */
import { plainLine } from '../../web/plain-text.ts'

export type Told = {
  /** of the first version, so that a corrected entry is the same one */
  readonly placeId: string
  readonly title: string
  readonly vehicleName: string
  readonly effectiveOn: string
  readonly recordedAt: string
}

/** `feedId` is a UUID; `since` stands as the time of change where there is no entry yet. */
export function atomOf(
  entries: readonly Told[],
  given: { readonly feedId: string; readonly title: string; readonly since: string },
): string {
  const latest = [...entries].sort((a, b) => (a.recordedAt < b.recordedAt ? 1 : -1))
  return [
    '<?xml version="1.0" encoding="utf-8"?>',
    '<feed xmlns="http://www.w3.org/2005/Atom">',
    `<id>urn:uuid:${xml(given.feedId)}</id>`,
    `<title>${xml(given.title)}</title>`,
    `<updated>${xml(latest[0]?.recordedAt ?? given.since)}</updated>`,
    '<author><name>Loombook</name></author>',
    ...latest.map((entry) =>
      [
        '<entry>',
        `<id>urn:uuid:${xml(entry.placeId)}</id>`,
        `<title>${xml(entry.title)}</title>`,
        `<updated>${xml(entry.recordedAt)}</updated>`,
        `<summary>${xml(`${entry.vehicleName}, ${entry.effectiveOn}`)}</summary>`,
        '</entry>',
      ].join(''),
    ),
    '</feed>',
    '',
  ].join('\n')
}

const ENTITIES: Readonly<Record<string, string>> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;', "'": '&#39;' }

/** Every ">" too, so that "]]>" cannot stand in the text. */
function xml(text: string): string {
  return plainLine(text).replaceAll(/[&<>"']/g, (letter) => ENTITIES[letter] as string)
}
