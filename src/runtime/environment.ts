/** The environment variables that the program was started with; nothing else reads them. */
export const environment: Readonly<Record<string, string | undefined>> = process.env
