using System.Text.Json.Nodes;

namespace Traceability.Simulator.Plant;

/// <summary>The life of a head: two depths measured, a shim chosen from them, rotor and seal fitted.</summary>
internal sealed class HeadRun(Floor floor, int index, DateTimeOffset revisionBFrom) : UnitRun(floor, "HD-2", index)
{
    private DateTimeOffset _openedAt;

    /// <inheritdoc />
    public override IEnumerable<DateTimeOffset> Live(DateTimeOffset from)
    {
        At = Floor.Calendar.Fit(from, TimeSpan.FromMinutes(45));
        yield return At;
        Open();
        _openedAt = At;
        var bore = Random.Bell(12.30m, 0.06m, 3);
        var width = Random.Bell(11.15m, 0.03m, 3);
        var depths = Depths(bore, width);
        foreach (var moment in Do(depths, Minutes(1, 3)).Concat(Do(Shim(bore - width), Minutes(1, 4))).Concat(Rotor()))
        {
            yield return moment;
        }

        Correct(depths, bore);
        if (Meets(TroubleKind.MovedInProcess))
        {
            At = At.AddMinutes(1);
            Hit(TroubleKind.MovedInProcess, "SEAL", "A to B with all but the seal done");
            Decide("unit-moved-to-revision", new()
            {
                ["revision"] = "B", ["carriesOver"] = Body.Texts(["DEPTH", "SHIM", "ROTOR"]), ["reason"] = "Seals of the new kind only", ["authorisedBy"] = "P-9",
            });
        }

        var seal = Seal();
        foreach (var moment in Do(seal, Minutes(1, 4)).Concat(Wait(Minutes(5, 20))))
        {
            yield return moment;
        }

        if (seal.Record is { } record && Meets(TroubleKind.RecordVoided))
        {
            Hit(TroubleKind.RecordVoided, "SEAL", "voided and not recorded again");
            Floor.Ledger.Send(Random.Id(), "record-voided", At, Senders.Quality, MasterData.Desk, "P-9", _ => new()
            {
                ["record"] = record.Id, ["reason"] = "Scanned the label of the next bench", ["authorisedBy"] = "P-9",
            }, Unit);
        }

        Release();
        Floor.Store(Unit);
    }

    private StepWork Depths(decimal bore, decimal width) => new("DEPTH", "HEAD-1", "HEADS", Minutes(2, 4))
    {
        Begin = w => w.Tools.Add(Body.Tool("DG-1")),
        Finish = w =>
        {
            w.Measurements.Add(Body.Measurement("BORE", Meets(TroubleKind.InputCorrected) ? Mistyped(bore) : bore, "mm"));
            w.Measurements.Add(Body.Measurement("WIDTH", width, "mm"));
        },
    };

    // Two figures the wrong way round would be out of limits at once; this one is not, and moves the limits of the shim.
    private static decimal Mistyped(decimal bore) => bore > 12.3m ? bore - 0.2m : bore + 0.2m;

    private void Correct(StepWork depths, decimal bore)
    {
        if (!Meets(TroubleKind.InputCorrected))
        {
            return;
        }

        var replacement = (JsonObject)JsonNode.Parse(depths.Record!.Json)!;
        replacement.Remove("factId");
        replacement["measurements"]![0]!["value"] = bore;
        Floor.Ledger.Send(Random.Id(), "record-corrected", At.AddSeconds(30), Senders.Quality, MasterData.Desk, "P-9", _ => new()
        {
            ["record"] = depths.Record.Id, ["replacement"] = replacement, ["reason"] = "Depth read off anew: a figure was mistyped", ["authorisedBy"] = "P-9",
        }, Unit, depths.Record.Id);
        Hit(TroubleKind.InputCorrected, "SHIM", "limits of the shim follow the depth");
    }

    // Shims come in steps of 0.02 mm. One micrometer in three reads micrometres.
    private StepWork Shim(decimal gap) => new("SHIM", "HEAD-1", "HEADS", Minutes(3, 5))
    {
        Begin = w => Use(w, "SH-3", "SHIM", 1m, "1"),
        Finish = w =>
        {
            var thickness = Math.Floor((gap - 0.002m) / 0.02m) * 0.02m;
            w.Measurements.Add(Index % 3 == 0
                ? Body.Measurement("THICKNESS", Math.Round(thickness * 1000m), "um")
                : Body.Measurement("THICKNESS", thickness, "mm"));
        },
    };

    private IEnumerable<DateTimeOffset> Rotor()
    {
        var retest = Meets(TroubleKind.Retested);
        foreach (var moment in Do(Gauge(retest ? 0.23m : Random.Bell(0.15m, 0.011m, 2)), Minutes(1, 4)))
        {
            yield return moment;
        }

        if (retest)
        {
            Hit(TroubleKind.Retested, "ROTOR", "gauged again, without rework");
            foreach (var moment in Do(Gauge(0.17m), Minutes(2, 5)))
            {
                yield return moment;
            }
        }
    }

    private StepWork Gauge(decimal clearance) => new("ROTOR", "HEAD-1", "HEADS", Minutes(4, 7))
    {
        Finish = w => w.Measurements.Add(Body.Measurement("CLEARANCE", clearance, "mm")),
    };

    private StepWork Seal()
    {
        var unrecorded = Meets(TroubleKind.StepNotRecorded);
        if (unrecorded)
        {
            Hit(TroubleKind.StepNotRecorded, "SEAL", "done, not recorded");
        }

        var lapsed = Meets(TroubleKind.QualificationExpired);
        if (lapsed)
        {
            Hit(TroubleKind.QualificationExpired, "SEAL", MasterData.Lapsed);
        }

        var learns = Floor.Plan.IsSupervised(this);
        return new("SEAL", "HEAD-1", "HEADS", Minutes(3, 6))
        {
            Person = lapsed || Floor.Plan.IsTrainedAgain(this) ? MasterData.Lapsed : learns ? MasterData.Trainee : null,
            Supervisor = learns ? MasterData.Crew("HEADS", late: false) : null,
            IsUnrecorded = unrecorded,
            Begin = w => Use(w, "GRS-4", "GREASE", Random.Bell(0.4m, 0.03m, 2), "g", Meets(TroubleKind.LotNotScanned) ? "lot" : ""),
            Finish = w =>
            {
                w.Checks.Add(Body.Check("LIP", true));
                if (_openedAt >= revisionBFrom || Meets(TroubleKind.MovedInProcess))
                {
                    w.Measurements.Add(Body.Measurement("STAND-OUT", Random.Bell(0.45m, 0.02m, 2), "mm"));
                }
            },
        };
    }
}
