/** The JSON Schema of the configuration, for editors that complete and check while one types. */
import { z } from 'zod'
import { fileSchema } from './schema.js'

/** JSON Schema (draft 2020-12) of one configuration file as people write it, generated from the one zod schema. */
export function siteJsonSchema(): Record<string, unknown> {
  const schema = z.toJSONSchema(fileSchema, { io: 'input', override: ({ jsonSchema }) => allowBlank(jsonSchema) })
  return {
    ...schema,
    type: 'object',
    title: 'Configuration of a Sightglass site',
    description: 'One site with its daemon; in a folder of sites the daemon has a file of its own, daemon.yaml.',
  }
}

/** A section that is all remarks has the value null in YAML, and counts as not written. */
function allowBlank(schema: z.core.JSONSchema.BaseSchema): void {
  if (schema.type === 'object') Object.assign(schema, { type: ['object', 'null'] })
}

/** The text of config/site.schema.json. */
export function siteJsonSchemaText(): string {
  return `${JSON.stringify(siteJsonSchema(), null, 2)}\n`
}
