/* The words and numbers of the wire, version 2 (shared/protocol.md, shared/protocol.json). */
#ifndef FEEDSCRIPT_WIRE_H
#define FEEDSCRIPT_WIRE_H

#define WIRE_VERSION 2u

#define BODY_MOST 88u
#define LINE_MOST 113u

#define BYTE_EMERGENCY 0x1Fu
#define BYTE_STOP 0x05u
#define BYTE_HOLD 0x10u

typedef enum {
    STATE_SAFE = 0,
    STATE_AWAITING_ARM = 1,
    STATE_ARMED = 2,
    STATE_HELD = 3,
    STATE_STOPPING = 4,
    STATE_STOPPED = 5,
    STATE_FAULT = 6
} state_t;

typedef enum {
    REASON_NONE = 0,
    REASON_HOST = 1,
    REASON_CHARACTER = 2,
    REASON_SILENCE = 3,
    REASON_SWITCH = 4,
    REASON_EMERGENCY = 5,
    REASON_HOLD_LIMIT = 6,
    REASON_NOBODY = 7,
    REASON_POWER_UP = 8,
    REASON_OPENED = 9,
    REASON_FAULT = 10,
    REASON_LATE = 11,
    REASON_NOT_READY = 12,
    REASON_PERSON = 13,
    REASON_POWER_OFF = 14,
    REASON_NEVER = 15,
    REASON_HOMING = 16
} reason_t;

typedef enum {
    FAULT_NONE = 0,
    FAULT_JAM = 1,
    FAULT_EMPTY = 2,
    FAULT_DRIVE = 3,
    FAULT_VOLTAGE = 4,
    FAULT_TEMPERATURE = 5,
    FAULT_STRAY = 6,
    FAULT_CEILING = 7,
    FAULT_SENSOR = 8,
    FAULT_LIMITS = 9,
    FAULT_SILENT = 10,
    FAULT_LOST_SPEED = 11,
    FAULT_HOME = 12,
    FAULT_STEPS = 13
} fault_t;

/* Details of FAULT_SENSOR. */
#define SENSOR_BLOCKED 1
#define SENSOR_DEAD 2 /* the wheels, or another sensor, felt a ball that it did not see */
#define SENSOR_NUMBER 10 /* of several: added so often as its number is */

typedef enum {
    NO_NONE = 0,
    NO_MALFORMED = 1,
    NO_WORD = 2,
    NO_SESSION = 3,
    NO_STATE = 4,
    NO_HELD = 5,
    NO_QUEUE = 6,
    NO_ID = 7,
    NO_LIMIT = 8,
    NO_CEILING = 9,
    NO_LATE = 10,
    NO_SOON = 11,
    NO_FAR = 12,
    NO_KEY = 13,
    NO_CABLE = 14,
    NO_LATCHED = 15,
    NO_FAULT = 16,
    NO_KEPT = 17,
    NO_VERSION = 18,
    NO_CAPABLE = 19,
    NO_CODE = 20,
    NO_CONFIGURED = 21
} no_t;

typedef enum { EVENT_BOOT, EVENT_STATE, EVENT_LEFT, EVENT_MISS, EVENT_LOST, EVENT_FAULT } event_t;

/* Milliseconds. Nothing on the wire changes any of these. */
#define SILENCE_MS 700u
#define WATCHDOG_MS 1000u
#define RUN_DOWN_MS 250u /* the promise is 300 */
#define PERSON_MS 60000u
#define HOLD_MOST_MS 120000u
#define HORIZON_MS 120000u
#define GRACE_MS 50u
#define JAM_MS 1500u
#define REACH_MS 5000u
#define VALVE_MOST_MS 1400 /* as a gate, open for less than the time of a jam */

/* A number further ahead of the last accepted one than this is none that the host has reached. */
#define SEQUENCE_AHEAD 32u
#define COUNTER_AHEAD 256u

#define QUEUE_PLACES 4u
#define KEPT_FEEDS 16u
#define KEPT_EVENTS 8u

#define DRIVE_MOST 32000
#define ANGLE_MOST 18000 /* hundredths of a degree */

#define CAPS 0x301u /* arming switch, keyed, emergency input; what is sensed comes to it */
#define CAP_BALL_SENSOR 0x008u
#define CAP_VOLTAGE 0x010u
#define CAP_TEMPERATURE 0x020u
#define CAP_THIRD_DRIVE 0x080u
#define CAP_FEEDBACK 0x400u

#endif
