/** The engine's plain types, under one name for this room. */

export type { BranchFacts, ConditionReport, FeedRow, Finding, Report, Verdict } from '../engine/report.ts'
export type { Component, Condition, Grade, Join, Part, Rating, Ratings, VehicleDocument, VehicleFigures, Zone } from '../engine/vehicle.ts'
