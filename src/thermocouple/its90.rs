//! Coefficients of the ITS-90 reference functions, reference junction at 0 °C, EMF in mV of temperature in °C.
//!
//! NIST Monograph 175 (1993), the same as IEC 60584-1; as NIST's database SRD 60 gives them (public domain). The order is
//! that of rising powers.

#![allow(clippy::excessive_precision, clippy::unreadable_literal, reason = "digits as they are printed in the source")]

use super::Thermocouple;

/// One piece of a reference function.
#[derive(Debug)]
pub(super) struct Piece {
    /// Where it begins, °C.
    pub from_c: f64,
    /// Where it ends, °C.
    pub to_c: f64,
    /// Coefficients of rising powers.
    pub powers: &'static [f64],
    /// Amplitude, exponent and centre of the bell that type K has above 0 °C.
    pub bell: Option<[f64; 3]>,
}

/// The pieces of a type, from cold to hot.
pub(super) fn pieces(couple: Thermocouple) -> &'static [Piece] {
    match couple {
        Thermocouple::K => K,
        Thermocouple::N => N,
        Thermocouple::S => S,
        Thermocouple::R => R,
        Thermocouple::B => B,
        Thermocouple::J => J,
        Thermocouple::E => E,
        Thermocouple::T => T,
    }
}

const B: &[Piece] = &[
    Piece {
        from_c: 0.0,
        to_c: 630.615,
        powers: &[
            0.0,
            -2.4650818346e-4,
            5.9040421171e-6,
            -1.3257931636e-9,
            1.5668291901e-12,
            -1.694452924e-15,
            6.2990347094e-19,
        ],
        bell: None,
    },
    Piece {
        from_c: 630.615,
        to_c: 1820.0,
        powers: &[
            -3.8938168621e0,
            2.857174747e-2,
            -8.4885104785e-5,
            1.5785280164e-7,
            -1.6835344864e-10,
            1.1109794013e-13,
            -4.4515431033e-17,
            9.8975640821e-21,
            -9.3791330289e-25,
        ],
        bell: None,
    },
];

const E: &[Piece] = &[
    Piece {
        from_c: -270.0,
        to_c: 0.0,
        powers: &[
            0.0,
            5.8665508708e-2,
            4.5410977124e-5,
            -7.7998048686e-7,
            -2.5800160843e-8,
            -5.9452583057e-10,
            -9.3214058667e-12,
            -1.0287605534e-13,
            -8.0370123621e-16,
            -4.3979497391e-18,
            -1.6414776355e-20,
            -3.9673619516e-23,
            -5.5827328721e-26,
            -3.4657842013e-29,
        ],
        bell: None,
    },
    Piece {
        from_c: 0.0,
        to_c: 1000.0,
        powers: &[
            0.0,
            5.866550871e-2,
            4.5032275582e-5,
            2.8908407212e-8,
            -3.3056896652e-10,
            6.502440327e-13,
            -1.9197495504e-16,
            -1.2536600497e-18,
            2.1489217569e-21,
            -1.4388041782e-24,
            3.5960899481e-28,
        ],
        bell: None,
    },
];

const J: &[Piece] = &[
    Piece {
        from_c: -210.0,
        to_c: 760.0,
        powers: &[
            0.0,
            5.0381187815e-2,
            3.047583693e-5,
            -8.568106572e-8,
            1.3228195295e-10,
            -1.7052958337e-13,
            2.0948090697e-16,
            -1.2538395336e-19,
            1.5631725697e-23,
        ],
        bell: None,
    },
    Piece {
        from_c: 760.0,
        to_c: 1200.0,
        powers: &[
            2.9645625681e2,
            -1.4976127786e0,
            3.1787103924e-3,
            -3.1847686701e-6,
            1.5720819004e-9,
            -3.0691369056e-13,
        ],
        bell: None,
    },
];

const K: &[Piece] = &[
    Piece {
        from_c: -270.0,
        to_c: 0.0,
        powers: &[
            0.0,
            3.9450128025e-2,
            2.3622373598e-5,
            -3.2858906784e-7,
            -4.9904828777e-9,
            -6.7509059173e-11,
            -5.7410327428e-13,
            -3.1088872894e-15,
            -1.0451609365e-17,
            -1.9889266878e-20,
            -1.6322697486e-23,
        ],
        bell: None,
    },
    Piece {
        from_c: 0.0,
        to_c: 1372.0,
        powers: &[
            -1.7600413686e-2,
            3.8921204975e-2,
            1.8558770032e-5,
            -9.9457592874e-8,
            3.1840945719e-10,
            -5.6072844889e-13,
            5.6075059059e-16,
            -3.2020720003e-19,
            9.7151147152e-23,
            -1.2104721275e-26,
        ],
        bell: Some([1.185976e-1, -1.183432e-4, 1.269686e2]),
    },
];

const N: &[Piece] = &[
    Piece {
        from_c: -270.0,
        to_c: 0.0,
        powers: &[
            0.0,
            2.6159105962e-2,
            1.0957484228e-5,
            -9.3841111554e-8,
            -4.6412039759e-11,
            -2.6303357716e-12,
            -2.2653438003e-14,
            -7.6089300791e-17,
            -9.3419667835e-20,
        ],
        bell: None,
    },
    Piece {
        from_c: 0.0,
        to_c: 1300.0,
        powers: &[
            0.0,
            2.5929394601e-2,
            1.571014188e-5,
            4.3825627237e-8,
            -2.5261169794e-10,
            6.4311819339e-13,
            -1.0063471519e-15,
            9.9745338992e-19,
            -6.0863245607e-22,
            2.0849229339e-25,
            -3.0682196151e-29,
        ],
        bell: None,
    },
];

const R: &[Piece] = &[
    Piece {
        from_c: -50.0,
        to_c: 1064.18,
        powers: &[
            0.0,
            5.28961729765e-3,
            1.39166589782e-5,
            -2.38855693017e-8,
            3.56916001063e-11,
            -4.62347666298e-14,
            5.00777441034e-17,
            -3.73105886191e-20,
            1.57716482367e-23,
            -2.81038625251e-27,
        ],
        bell: None,
    },
    Piece {
        from_c: 1064.18,
        to_c: 1664.5,
        powers: &[
            2.95157925316e0,
            -2.52061251332e-3,
            1.59564501865e-5,
            -7.64085947576e-9,
            2.05305291024e-12,
            -2.93359668173e-16,
        ],
        bell: None,
    },
    Piece {
        from_c: 1664.5,
        to_c: 1768.1,
        powers: &[1.52232118209e2, -2.68819888545e-1, 1.71280280471e-4, -3.45895706453e-8, -9.34633971046e-15],
        bell: None,
    },
];

const S: &[Piece] = &[
    Piece {
        from_c: -50.0,
        to_c: 1064.18,
        powers: &[
            0.0,
            5.40313308631e-3,
            1.2593428974e-5,
            -2.32477968689e-8,
            3.22028823036e-11,
            -3.31465196389e-14,
            2.55744251786e-17,
            -1.25068871393e-20,
            2.71443176145e-24,
        ],
        bell: None,
    },
    Piece {
        from_c: 1064.18,
        to_c: 1664.5,
        powers: &[1.32900444085e0, 3.34509311344e-3, 6.54805192818e-6, -1.64856259209e-9, 1.29989605174e-14],
        bell: None,
    },
    Piece {
        from_c: 1664.5,
        to_c: 1768.1,
        powers: &[1.46628232636e2, -2.58430516752e-1, 1.63693574641e-4, -3.30439046987e-8, -9.43223690612e-15],
        bell: None,
    },
];

const T: &[Piece] = &[
    Piece {
        from_c: -270.0,
        to_c: 0.0,
        powers: &[
            0.0,
            3.8748106364e-2,
            4.4194434347e-5,
            1.1844323105e-7,
            2.0032973554e-8,
            9.0138019559e-10,
            2.2651156593e-11,
            3.6071154205e-13,
            3.8493939883e-15,
            2.8213521925e-17,
            1.4251594779e-19,
            4.8768662286e-22,
            1.079553927e-24,
            1.3945027062e-27,
            7.9795153927e-31,
        ],
        bell: None,
    },
    Piece {
        from_c: 0.0,
        to_c: 400.0,
        powers: &[
            0.0,
            3.8748106364e-2,
            3.329222788e-5,
            2.0618243404e-7,
            -2.1882256846e-9,
            1.0996880928e-11,
            -3.0815758772e-14,
            4.547913529e-17,
            -2.7512901673e-20,
        ],
        bell: None,
    },
];
