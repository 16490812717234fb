/** The README of an archive: its format in plain words, made from the tables themselves, so that it cannot say what is not so. */
import { archiveTables, columnsOf, FORMAT, fileOf } from './archive-tables.ts'

export function readmeOf(scope: 'household' | 'vehicle', held: readonly string[]): string {
  const whose = scope === 'household' ? 'everything that a household recorded' : 'the record of one vehicle'
  const tables = archiveTables.filter((table) => held.includes(table.name))
  return [
    `A Loombook archive (${FORMAT}): ${whose}, in plain files.`,
    '',
    ...files,
    '',
    'How to read it',
    '',
    ...words,
    '',
    'The tables',
    ...tables.flatMap((table) => [
      '',
      `${fileOf(table.name)}: ${table.says}.`,
      ...columnsOf(table).map(([name, says]) => `  ${name.padEnd(16)}  ${says}`),
    ]),
    '',
  ].join('\n')
}

const files = [
  'README.txt             this file',
  'manifest.json          what is here: for each file its bytes, its SHA-256 and its rows; "missing" names originals that were',
  '                       not on the disk, or no longer what they had been, when the archive was made',
  'records/<table>.jsonl  one record a line, as JSON, in UTF-8; the tables are described below',
  'vehicles/<id>/         document.json: today’s components, parts with ratings, joins and conditions of the vehicle',
  'photos/                originals, byte for byte, named by their SHA-256',
  'csv/                   tables for a spreadsheet, never read back; a cell of words that looks like a formula has an',
  '                       apostrophe before it, figures are as they are',
]

const words = [
  'Days are YYYY-MM-DD, instants UTC (ISO 8601), money in minor units (cents), lengths in metres, distances in kilometres;',
  'a figure’s unit stands in its name.',
  'An entry with "corrects_id" takes the place of that entry (correction "replaced") or takes it back ("withdrawn"); taking a',
  'withdrawal back brings its entry back. Entries are never changed.',
  'A vehicle’s state on a day is its changes up to that day, one after another, in the order (effective_on, place_id, position).',
  'Lines are written as ECMAScript’s JSON.stringify writes them, keys in the order below, and sorted by id; part_revisions in',
  'the order recorded. Two archives of the same records differ in the manifest’s "madeAt" alone.',
  'To be taken in, an archive has to be whole: every file named in the manifest, as it says, and no other.',
]
