// The addresses that this app sends to, and no others: an item that was read from a file is data of whoever wrote it,
// and is sent with the rights of whoever opened it.

const ID = "[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}";
const RECORDS =
  "abrasive|air|cleanliness|climate|cure|cuttest|defects|dust|hardness|highvoltage|look|profile|pulloff|salts|" +
  "steelwork|thickness|wetfilm|wetsponge";
const OWN = new RegExp(
  "^/api/(?:" +
    [
      RECORDS, "batches", "drawing-notes", "mixes", "nonconformances", "photos", "rework", "verifications",
      `gauges/${ID}/(?:hand-over|incidents|receipt)`, `standards/${ID}/(?:hand-over|receipt)`,
      `hold-points/${ID}/attend`, `lots/${ID}/end`, `mixes/${ID}/use`, `notices/${ID}/(?:acknowledge|outcome)`,
      `photos/${ID}/mark`,
      `projects/${ID}/(?:diary|lots/begin|(?:${RECORDS})/cautions)`, `rework/${ID}/(?:done|look)`,
      `stations/${ID}/readings`,
    ].join("|") +
    ")/$"
);

/** Whether the app itself makes such an item. */
export const isSentByApp = ({ method, address }) => method === "POST" && OWN.test(address);
