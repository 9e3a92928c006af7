// Passkeys (WebAuthn, Level 2): what the browser asks of the device, put into the form that holds it.
// A form with data-passkey="create" or "get" carries the options as JSON in data-options.

const toBytes = (text) => {
  const padded = text.replace(/-/g, "+").replace(/_/g, "/").padEnd(Math.ceil(text.length / 4) * 4, "=");
  return Uint8Array.from(atob(padded), (letter) => letter.charCodeAt(0));
};

const toText = (buffer) =>
  btoa(String.fromCharCode(...new Uint8Array(buffer)))
    .replace(/\+/g, "-")
    .replace(/\//g, "_")
    .replace(/=+$/, "");

const withBytes = (credentials) => (credentials || []).map((one) => ({ ...one, id: toBytes(one.id) }));

function read(options) {
  const asked = { ...options.publicKey, challenge: toBytes(options.publicKey.challenge) };
  if (asked.user) asked.user = { ...asked.user, id: toBytes(asked.user.id) };
  if (asked.excludeCredentials) asked.excludeCredentials = withBytes(asked.excludeCredentials);
  if (asked.allowCredentials) asked.allowCredentials = withBytes(asked.allowCredentials);
  return asked;
}

function written(credential) {
  const response = {};
  for (const name of ["clientDataJSON", "attestationObject", "authenticatorData", "signature", "userHandle"]) {
    if (credential.response[name]) response[name] = toText(credential.response[name]);
  }
  if (credential.response.getTransports) response.transports = credential.response.getTransports();
  return {
    type: credential.type,
    id: credential.id,
    rawId: toText(credential.rawId),
    authenticatorAttachment: credential.authenticatorAttachment,
    clientExtensionResults: credential.getClientExtensionResults(),
    response,
  };
}

for (const form of document.querySelectorAll("form[data-passkey]")) {
  const told = form.querySelector("[data-passkey-said]");
  const say = (words) => {
    told.textContent = words;
    told.hidden = !words;
  };
  const options = JSON.parse(form.dataset.options);
  if (!window.PublicKeyCredential) {
    say("This browser knows no passkeys here; they need a current browser and a TLS connection.");
    continue;
  }
  form.querySelector("button").hidden = false;
  form.addEventListener("submit", async (event) => {
    const field = form.querySelector("input[name=credential]");
    event.preventDefault();
    say("");
    try {
      const asked = { publicKey: read(options) };
      const creating = form.dataset.passkey === "create";
      const made = creating ? navigator.credentials.create(asked) : navigator.credentials.get(asked);
      field.value = JSON.stringify(written(await made));
      form.submit();
    } catch {
      say("The device gave no passkey. Try again, or use another way.");
    }
  });
}
