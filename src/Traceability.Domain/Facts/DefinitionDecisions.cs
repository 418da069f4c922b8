using Traceability.Domain.Batches;
using Traceability.Domain.Cure;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.People;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Domain.Sites;
using Traceability.Domain.Tools;

namespace Traceability.Domain.Facts;

/// <summary>Decides whether a fact about anything but a unit can be recorded: what it names must be known, once is once.</summary>
public static class DefinitionDecisions
{
    /// <summary>The refusal, or null: record it.</summary>
    public static Refusal? Check(Fact fact, IReferences references)
    {
        ArgumentNullException.ThrowIfNull(fact);
        ArgumentNullException.ThrowIfNull(references);
        return fact switch
        {
            SiteDefined s => TimeZoneInfo.TryFindSystemTimeZoneById(s.TimeZone, out _)
                ? null
                : Refusal.At("time-zone-unknown", RefusalKind.Malformed, "/timeZone", $"'{s.TimeZone}' is not an IANA time zone such as Europe/Lisbon."),
            StationDefined s => references.FindSite(s.Site) is null ? Unknown("site-unknown", "/site", $"Site {s.Site}") : null,
            IBatchFact b => BatchDecisions.Check(b, fact, references),
            ILotFact l => LotDecisions.Check(l, fact, references),
            ToolCalibrated t => Known(references.FindTool(t.Tool), "tool-unknown", "/tool", $"Tool {t.Tool}"),
            ToolSettingVerified t => Known(references.FindTool(t.Tool), "tool-unknown", "/tool", $"Tool {t.Tool}"),
            ToolChecked t => Known(references.FindTool(t.Tool), "tool-unknown", "/tool", $"Tool {t.Tool}"),
            ToolStudied t => Known(references.FindTool(t.Tool), "tool-unknown", "/tool", $"Tool {t.Tool}"),
            ToolWithdrawn t => CheckToolUse(t.Tool, t, references),
            ToolReinstated t => CheckToolUse(t.Tool, t, references),
            QualificationGranted q => Known(references.FindPerson(q.Subject), "person-unknown", "/subject", $"Person {q.Subject}"),
            QualificationWithdrawn q => Known(references.FindPerson(q.Subject), "person-unknown", "/subject", $"Person {q.Subject}"),
            TemperatureRecorded t => Known(references.FindStation(t.Place), "station-unknown", "/place", $"Station {t.Place}"),
            TrainingCompleted t => Known(references.FindPerson(t.Subject), "person-unknown", "/subject", $"Person {t.Subject}")
                ?? (t.Trainer is { } trainer ? Known(references.FindPerson(trainer), "person-unknown", "/trainer", $"Person {trainer}") : null),
            RoutingDrafted r => CheckDraft(r.Revision, references),
            RoutingReleased r => RevisionDecisions.CheckRelease(r, references),
            RoutingApproved r => RevisionDecisions.CheckApproval(r, references),
            ReplacementDeclared r => CheckReplacement(r, references),
            _ => null,
        };
    }

    private static Refusal? CheckToolUse(ToolNumber number, Fact decision, IReferences references)
    {
        var tool = references.FindTool(number);
        return Known(tool, "tool-unknown", "/tool", $"Tool {number}") ?? ToolLife.Check(tool, decision);
    }

    private static Refusal? CheckDraft(RoutingRevision revision, IReferences references)
    {
        if (references.FindRouting(revision.Item)?.FindReleased(revision.Revision) is not null)
        {
            return Refusal.At("revision-released", RefusalKind.Contradiction, "/revision/revision", $"Revision {revision.Revision} of {revision.Item} is released and can't be changed. Draft the next revision.");
        }

        var faults = ImmutableArray.CreateBuilder<Fault>();
        Require(revision.Item, "/revision/item");
        for (var s = 0; s < revision.Steps.Length; s++)
        {
            var step = revision.Steps[s];
            for (var m = 0; m < step.Materials.Length; m++)
            {
                RequireAll(step.Materials[m].Item, step.Materials[m].Alternatives, $"/revision/steps/{s}/materials/{m}");
            }

            for (var c = 0; c < step.Components.Length; c++)
            {
                RequireAll(step.Components[c].Item, step.Components[c].Alternatives, $"/revision/steps/{s}/components/{c}");
            }
        }

        return faults.Count == 0 ? null : new("item-unknown", RefusalKind.Unknown, "The routing names items that are not known. Define them first.", faults.ToImmutable());

        void RequireAll(ItemNumber item, ImmutableArray<ItemNumber> alternatives, string at)
        {
            Require(item, $"{at}/item");
            for (var a = 0; a < alternatives.Length; a++)
            {
                Require(alternatives[a], $"{at}/alternatives/{a}");
            }
        }

        void Require(ItemNumber item, string pointer)
        {
            if (references.FindItem(item) is null)
            {
                faults.Add(new(pointer, $"Item {item} is not known."));
            }
        }
    }

    private static Refusal? CheckReplacement(ReplacementDeclared declared, IReferences references)
    {
        if (Known(references.FindPerson(declared.AuthorisedBy), "person-unknown", "/authorisedBy", $"Person {declared.AuthorisedBy}") is { } refusal)
        {
            return refusal;
        }

        (string Pointer, ItemNumber Item)[] items = [("/item", declared.Item), ("/replaced", declared.Replaced), ("/with", declared.With)];
        ImmutableArray<Fault> unknown = [.. items.Where(i => references.FindItem(i.Item) is null).Select(i => new Fault(i.Pointer, $"Item {i.Item} is not known."))];
        if (!unknown.IsEmpty)
        {
            return new("item-unknown", RefusalKind.Unknown, "The declaration names items that are not known. Define them first.", unknown);
        }

        var routing = references.FindRouting(declared.Item);
        ImmutableArray<Fault> missing =
        [
            .. declared.Revisions.Select((r, i) => (Revision: r, Pointer: $"/revisions/{i}"))
                .Where(r => routing?.Find(r.Revision) is null)
                .Select(r => new Fault(r.Pointer, $"Revision {r.Revision} of {declared.Item} is not known.")),
        ];
        return missing.IsEmpty ? null : new("revision-unknown", RefusalKind.Unknown, "The declaration names revisions that are not known. Draft them first, or correct the names.", missing);
    }

    private static Refusal? Known(object? found, string code, string pointer, string what) => found is null ? Unknown(code, pointer, what) : null;

    private static Refusal Unknown(string code, string pointer, string what) =>
        Refusal.At(code, RefusalKind.Unknown, pointer, $"{what} is not known. Define it first, or correct the name.");
}
