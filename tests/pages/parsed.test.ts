/** Expected: what the HTML standard's tokenizer (13.2.5) makes of each, worked by hand; only that a tag left open at the end counts as one. */
import { expect, test } from 'vitest'
import { parsed, saidOn, structureOf } from './parsed.ts'

test.each([
  ['<p class="a">b</p>', ['<p class>', '</p>']],
  ['<B onClick=x>', ['<b onclick>']],
  ['<svg/onload=x>', ['<svg onload>']],
  ["<a b='>' c>", ['<a b c>']],
  ['a < b <3 <', []],
  ['&lt;b&gt;', []],
  ['<a title="&quot; x=1">', ['<a title>']],
  ['<a href="<b>', ['<a href>']],
  ['<!-- <b> --><i>', ['<!-- -->', '<i>']],
  ['<!-- <b>', ['<!-- -->']],
  ['<textarea><b></textarea><i>', ['<textarea>', '</textarea>', '<i>']],
  ['<title></titles><b></title >', ['<title>', '</title>']],
  ['</ b><i>', ['</ b>', '<i>']],
  ['<i a=1 a=2 b = "3">', ['<i a b>']],
])('%s', (markup, structure) => {
  expect(structureOf(markup)).toEqual(structure)
})

test('what is said is read as a reader meets it', () => {
  expect(saidOn('<p title="&#34;a&#x22;">1 &lt; 2 &amp;lt; 3</p>')).toEqual(['"a"', '1 < 2 &lt; 3'])
  expect(parsed('<textarea>&lt;b></textarea>')[1]).toEqual({ is: 'text', text: '<b>' })
})
