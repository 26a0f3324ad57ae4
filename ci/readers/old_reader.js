// Prints every table of the release in this folder as JSON; run where npm datapackage is.
const { Package } = require("datapackage");

const TYPES = { string: "String", integer: "Number", number: "Number", boolean: "Boolean", date: "Date", datetime: "Date" };
process.env.TZ = "UTC";

function told(kind, value) {
  if (value === null) return null;
  if (value.constructor.name !== TYPES[kind]) return [value.constructor.name, String(value)];
  return value instanceof Date ? value.toISOString() : value;
}

(async () => {
  const pack = await Package.load("datapackage.json");
  if (!pack.valid) throw new Error(JSON.stringify(pack.errors.map(String)));
  const read = {};
  for (const resource of pack.resources) {
    if (!resource.tabular || !resource.descriptor.path.endsWith(".csv")) continue;
    const rows = await resource.read({ cast: true });
    const kinds = resource.schema.fields.map((field) => field.type);
    read[resource.name] = rows.map((row) => row.map((value, at) => told(kinds[at], value)));
  }
  process.stdout.write(JSON.stringify(read));
})().catch((error) => { console.error(error); process.exit(1); });
