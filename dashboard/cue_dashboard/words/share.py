"""What is said about sharing the pages with another device."""

TITLE = "Share"
INTRO = "Put the pages on the phone in your pocket: strokes still arrive at this computer."
START = "Share on this network"
STOP = "Stop sharing"
NEW_LINK = "New link"
ENCRYPTED = "Encrypted"
ENCRYPTED_HELP = (
    "The phone asks once whether it may go on; its screen then stays on while you play. Switch it "
    "off only for a device that refuses."
)
WARNING = (
    "The phone will say that the connection is not private: no authority vouches for this "
    "computer. Choose Advanced or Details there, then go on to {host}. To be sure that it is this "
    "computer, compare the SHA-256 fingerprint in the certificate's details:"
)
NOT_ENCRYPTED = "Not encrypted: anyone on this network can read along."
OFF = "Not shared. Only this computer can open the pages."
ON = "Shared on your network at {address}."
LINK_TITLE = "Link for one device"
LINK_HELP = "Point the phone's camera at the square, or type the link. It lets one device in."
LOOK_LINK = "New link, to look only"
LINK_CHANGES = "Who opens it may tap results and change the log, as you can."
LINK_LOOKS = "Who opens it may only look: nothing that is tapped there changes anything."
LINK_LEFT = "Works once, for another {minutes} min."
LINK_SPENT = "This link has been used or has run out."
QR_ALT = "The link as a square to point a camera at"
GUESTS_TITLE = "Devices that were let in"
NO_GUESTS = "None yet."
GUEST = "Device"
GUEST_SEEN = "Last here"
GUEST_LOOKS = "{label}, looks only"
GUEST_REMOVE = "Remove"
GUEST_REMOVE_WHICH = "Remove {label}"
SEEN_NOW = "just now"
SEEN_MINUTES = "{minutes} min ago"
CAUTIONS_TITLE = "Before you share"
CAUTIONS = (
    "A device that was let in can see the whole log. It can tap results and change the log as you "
    "can, unless its link was one to look only.",
    "Encrypted, nobody else on the network can read along. Without encryption share at home or on "
    "a club's own network only.",
    "Stop sharing here, and every device needs a new link. End the program, and the devices of the "
    "last twelve hours are let in again once you share again.",
    "Browsers keep a phone's screen on over encrypted pages only; a phone that saves its battery "
    "may refuse all the same. Voice and tone need one tap on the page, and no encryption.",
)
ONLY_HERE = "Sharing is switched on the computer that runs stunpace."

ONLY_LOOKS = "This device may only look: what is tapped here changes nothing."
ONLY_LOOKS_FAULT = (
    "This device may only look, so nothing was changed. A link that may tap comes from the page "
    "Share on the computer."
)

JOIN_TITLE = "Open stunpace on this device"
JOIN_TEXT = "The practice log of the computer that made this link opens here."
JOIN_BUTTON = "Open"
NOT_LET_IN_TITLE = "This device is not let in"
NOT_LET_IN_TEXT = (
    "Its link has been used, has run out, or sharing was stopped. "
    "Ask for a new link at the computer that runs stunpace, page Share."
)
TOO_OFTEN_TITLE = "Too many requests"
TOO_OFTEN_TEXT = "Wait a second, then load the page again."

DEVICES = (("iPad", "a tablet"), ("Tablet", "a tablet"), ("Mobi", "a phone"))
"""Signs of a kind of device in what browsers call themselves."""
OTHER_DEVICE = "a computer"


def device(user_agent: str) -> str:
    """Return what to call a device by what its browser says it is."""
    return next((name for sign, name in DEVICES if sign in user_agent), OTHER_DEVICE)
