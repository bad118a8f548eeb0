// What npm `gltf-validator` says of a file: gltf_check.cjs MODULE FILE
const { readFileSync } = require('node:fs');
const validator = require(process.argv[2]);

validator.validateBytes(new Uint8Array(readFileSync(process.argv[3])), { maxIssues: 100 })
  .then((report) => process.stdout.write(JSON.stringify(report)), (error) => { process.stderr.write(String(error)); process.exit(1); });
