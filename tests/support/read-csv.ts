/** Reads CSV as RFC 4180 defines it, apart from the program's own writer, so that the two check each other. */
export function readCsv(text: string): readonly Readonly<Record<string, string>>[] {
  const [head, ...rows] = fieldsOf(text)
  return rows.map((row) => {
    if (row.length !== head?.length) throw new Error(`found ${row.length} fields, expected ${head?.length}: ${row}`)
    return Object.fromEntries(row.map((value, column) => [head[column] ?? '', value]))
  })
}

/** Records of fields: comma between, CR LF behind, quotes around and doubled within. */
function fieldsOf(text: string): readonly (readonly string[])[] {
  const records: string[][] = []
  let record: string[] = []
  const pattern = /(?:"((?:[^"]|"")*)"|([^",\r\n]*))(,|\r\n)/y
  while (pattern.lastIndex < text.length) {
    const from = pattern.lastIndex
    const match = pattern.exec(text)
    if (match === null) throw new Error(`not RFC 4180 at "${text.slice(from, from + 40)}"`)
    record.push(match[1]?.replaceAll('""', '"') ?? match[2] ?? '')
    if (match[3] === ',') continue
    records.push(record)
    record = []
  }
  return records
}
