/** `npm run -s check -- FILE [--json] [--conductor-temperature DEGC]`: checks a document with no database and no server. */
import { readFileSync } from 'node:fs'
import { parseText } from '../document/parse.ts'
import { printReport } from '../document/print-report.ts'
import { checkWithRemedies } from '../engine/remedies.ts'
import type { Report } from '../engine/report.ts'
import { checkVehicle } from '../engine/rules/check.ts'

const OVER = 1
const REFUSED = 2

process.exitCode = run(process.argv.slice(2))

function run(args: readonly string[]): number {
  const asked = readArguments(args)
  if (typeof asked === 'string') return refuse([asked, 'Usage: check FILE [--json] [--conductor-temperature DEGC]'])
  let text: string
  try {
    text = readFileSync(asked.file, 'utf8')
  } catch (error) {
    return refuse([`${asked.file} cannot be read: ${error instanceof Error ? error.message : 'unknown reason'}`])
  }
  const parsed = parseText(text)
  if (!parsed.ok)
    return refuse([`${asked.file} is refused:`, ...parsed.faults.map((fault) => `  ${fault.path || '(whole)'}: ${fault.says}`)])
  let report: Report
  try {
    const check = asked.json ? checkWithRemedies : checkVehicle
    report = check(parsed.document, { conductorTemperature_degC: asked.temperature_degC })
  } catch (error) {
    return refuse([`${asked.file} cannot be solved: ${error instanceof Error ? error.message : 'unknown reason'}`])
  }
  process.stdout.write(asked.json ? `${JSON.stringify(printReport(report))}\n` : textOf(report))
  if (report.conditions.some((condition) => !condition.solved)) return REFUSED
  return report.findings.some((finding) => finding.verdict === 'over') ? OVER : 0
}

function readArguments(args: readonly string[]): { file: string; json: boolean; temperature_degC: number | undefined } | string {
  const files: string[] = []
  let json = false
  let temperature_degC: number | undefined
  for (let n = 0; n < args.length; n++) {
    const word = args[n] as string
    if (word === '--json') json = true
    else if (word === '--conductor-temperature') {
      const degrees = args[++n]
      temperature_degC = degrees === undefined || degrees.trim() === '' ? Number.NaN : Number(degrees)
      if (!Number.isFinite(temperature_degC) || temperature_degC < -60 || temperature_degC > 1000)
        return `--conductor-temperature takes degrees Celsius from -60 to 1000, not "${degrees ?? ''}".`
    } else if (word.startsWith('--')) return `There is no option ${word}.`
    else files.push(word)
  }
  if (files.length !== 1) return files.length === 0 ? 'Which document?' : 'One document at a time.'
  return { file: files[0] as string, json, temperature_degC }
}

function textOf(report: Report): string {
  const rows = report.findings.map((finding) => [finding.verdict, finding.rule, finding.component, finding.says])
  const widths = [0, 1, 2].map((column) => Math.max(0, ...rows.map((row) => (row[column] as string).length)))
  const lines = rows.map((row) => row.map((cell, column) => (column < 3 ? cell.padEnd(widths[column] as number) : cell)).join('  '))
  const conditions = report.conditions.map(
    (condition) =>
      `${condition.name}: ${condition.solved ? 'solved' : 'not solved'}${condition.unfed.length > 0 ? `; unfed: ${condition.unfed.join(', ')}` : ''}${condition.faults.map((fault) => `; ${fault}`).join('')}`,
  )
  return `${[...lines, '', ...conditions].join('\n')}\n`
}

function refuse(lines: readonly string[]): number {
  process.stderr.write(`${lines.join('\n')}\n`)
  return REFUSED
}
