"""The rules under what is told of returns beside the curve itself."""

from __future__ import annotations

HOW_LONG = (
    "The days of a wait are areas: waiting, returned and closed add up to the span. Waiting is "
    "the mean time until either; returned and closed are the mean days lost to each "
    "(Aalen–Johansen, the restricted mean). The span is the longest of 730, 365, 180 and 90 days "
    "that the curve reaches. The interval is the normal one. The median is the first day by which "
    "half had returned; where closing takes more than half it is never reached, and then there is "
    "none to tell."
)
SINCE_FUNDING = (
    "The clock starts on the first day on which money arrived after “no budget yet” and before "
    "the wait ended, and runs to the engagement, a close competing. Leads without noted funding "
    "are not in it, though they may have had money; so it tells how soon those engage of whose "
    "money the team heard."
)
RETURN_SHARE = (
    "A return is an engagement of a lead that counts and had said “no budget yet” before or on "
    "that day. Fees are added up within one currency only. The interval of the count is "
    "Wilson's; that of a sum takes few large fees for what they are, fewer observations "
    "(Wilson's at the effective size), and where it is wider than 50 points the fees are too few "
    "to tell. With no engagement it can't be told."
)
EARNED = (
    "A return is credited to the lead's first held session, however many followed. This is a list "
    "of facts, not an estimate: no session is ranked by it."
)
