/** The slip of something that is to be mended: what it is, and the way to where it is mended. */

import { html } from "../dom.js";
import { mendOf } from "../sheet/mending.js";
import { deed, deeds } from "./fields.js";
import { decide } from "./onsheet.js";

/** @import { Finding } from "../contract.js" */
/** @import { SlipKind } from "./slips.js" */

/** @type {SlipKind<Finding>} */
export const findingSlip = {
  fill(slip, finding, here) {
    slip.put(html("p", { class: "said" }, finding.message));
    const { sticker } = finding;
    const mend = here.sheet ? mendOf(finding, here.sheet, here.desk.state.document) : null;
    if (mend) {
      slip.put(
        deeds(
          "",
          deed(mend.words, () => void decide(here, mend.words, mend.edits())),
        ),
      );
    }
    if (sticker !== null && here.desk.sticker(sticker)) {
      slip.put(
        deeds(
          "",
          deed(`See the sketch of ${sticker}`, () => here.go(sticker)),
        ),
      );
    }
    return () => {
      const still = here.sheet?.sheet?.findings.some(({ message }) => message === finding.message);
      return still ? `${finding.number}, to be mended` : null;
    };
  },
};
