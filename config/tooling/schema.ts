// Writes config/site.schema.json from the schema in src/config: npx tsx config/tooling/schema.ts
import { writeFileSync } from 'node:fs'
import { siteJsonSchemaText } from '../../src/config/json-schema.js'

writeFileSync(new URL('../site.schema.json', import.meta.url), siteJsonSchemaText())
