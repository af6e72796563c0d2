//! Thrust, torque, power and slipstream of a propeller from its station table: air, blade elements with momentum, operating points.
