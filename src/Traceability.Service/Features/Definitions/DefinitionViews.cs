using System.Text.Json;
using Traceability.Contracts;
using Traceability.Contracts.Definitions;
using Traceability.Contracts.Facts;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Definitions;

/// <summary>Turns definitions into what is answered.</summary>
internal static class DefinitionViews
{
    public static ItemView Of(Domain.Items.ItemDefined item) => new(
        item.Item.Value,
        Enum.Parse<ItemKind>(item.Kind.ToString()),
        item.Description,
        [.. item.Variants.Select(v => v.Value)],
        item.LifeAfterOpening)
    {
        // The stored form of a table is its wire form.
        Cure = item.Cure is null ? null : JsonSerializer.Deserialize<CureTable>(JsonSerializer.Serialize(item.Cure, EventJson.Options), WireJson.Options),
        Mix = item.Mix is null ? null : JsonSerializer.Deserialize<Mixture>(JsonSerializer.Serialize(item.Mix, EventJson.Options), WireJson.Options),
        PotLife = item.PotLife,
        PotLifeByTemperature = Life(item.PotLifeByTemperature),
        OpenedLifeByTemperature = Life(item.OpenedLifeByTemperature),
        OpenTimeByTemperature = Life(item.OpenTimeByTemperature),
        NeedsInspection = item.NeedsInspection == true,
        ApprovalsNeeded = item.ApprovalsNeeded,
    };

    private static LifeTable? Life(Domain.Cure.LifeTable? table) =>
        table is null ? null : JsonSerializer.Deserialize<LifeTable>(JsonSerializer.Serialize(table, EventJson.Options), WireJson.Options);

    public static SiteView Of(Domain.Sites.SiteDefined site) => new(site.Site.Value, site.Description, site.TimeZone);

    public static StationView Of(Domain.Sites.StationDefined station) => new(station.Subject.Value, station.Site.Value, station.Description);

    public static DefectView Of(Domain.Items.DefectCodeDefined defect) => new(defect.Defect.Value, defect.Description);

    public static ToolView Of(Domain.Tools.Tool tool)
    {
        var standing = tool.Effective.Where(f => !f.IsVoided).ToArray();
        var definition = tool.Definition;
        return new(
            tool.Number.Value,
            definition?.ToolClass.Value ?? string.Empty,
            definition?.Description ?? string.Empty,
            definition?.NeedsCalibration ?? false,
            [.. standing.Where(f => f.Fact is Domain.Tools.ToolCalibrated).Select(f => Calibration(f.Id, (Domain.Tools.ToolCalibrated)f.Fact))],
            [.. standing.Where(f => f.Fact is Domain.Tools.ToolSettingVerified).Select(f => Setting(f.Id, (Domain.Tools.ToolSettingVerified)f.Fact))],
            definition?.CalibrationInterval);
    }

    public static PersonView Of(Domain.People.Person person) => new(
        person.Code.Value,
        person.Definition?.DisplayName ?? string.Empty,
        [.. person.Effective.Where(f => !f.IsVoided).SelectMany(Qualifications)])
    {
        Trainings = [.. person.Effective.Where(f => !f.IsVoided).Select(Training).OfType<TrainingView>()],
    };

    public static RoutingView Of(Domain.Routings.Routing routing) =>
        new(routing.Item.Value, [.. routing.Released.Select(Revision)], [.. routing.Drafts.Select(Revision)])
        {
            Lives = [.. routing.Lives.Select(Life)],
            Replacements = [.. routing.Replacements.Select(r => new ReplacementView(
                r.Record, r.Replaced.Value, r.With.Value, [.. r.Revisions.Select(v => v.Value)], r.From, r.Reason, r.AuthorisedBy.Value))],
        };

    private static RevisionLifeView Life(Domain.Routings.RevisionLife life) => new(
        life.Revision.Value,
        life.ReleasedAt is not null ? "released" : life.Approvals.IsEmpty ? "draft" : "approved",
        [.. life.Authors.Select(a => a.Value)],
        life.IsAuthorUnknown,
        [.. life.Approvals.Select(a => new ApprovalView(a.Record, a.ApprovedBy.Value, a.At))],
        life.ReleasedBy?.Value,
        life.ReleasedAt);

    private static CalibrationView Calibration(Guid record, Domain.Tools.ToolCalibrated c) =>
        new(record, c.At, c.FoundGood, c.LeftGood, c.ValidUntil, c.Certificate, [.. c.Points.Select(Point)]);

    private static VerifiedSettingView Setting(Guid record, Domain.Tools.ToolSettingVerified v) =>
        new(record, v.At, v.Setting.Value, Quantity(v.Torque)!, v.ValidUntil, Quantity(v.Uncertainty));

    private static CalibrationPoint Point(Domain.Tools.CalibrationPoint p) => new()
    {
        Setting = p.Setting?.Value,
        Nominal = Quantity(p.Nominal)!,
        AsFound = Quantity(p.AsFound),
        AsLeft = Quantity(p.AsLeft),
        Uncertainty = Quantity(p.Uncertainty),
    };

    private static QualificationView[] Qualifications(EffectiveFact fact) => fact.Fact switch
    {
        Domain.People.QualificationGranted g => [new(fact.Id, fact.At, g.Qualification.Value, true, g.ValidUntil)],
        Domain.People.TrainingCompleted t => [.. t.Grants.Select(g => new QualificationView(fact.Id, fact.At, g.Value, true, t.ValidUntil))],
        Domain.People.QualificationWithdrawn w => [new(fact.Id, fact.At, w.Qualification.Value, false, null)],
        _ => [],
    };

    private static TrainingView? Training(EffectiveFact fact) => fact.Fact is Domain.People.TrainingCompleted t
        ? new(fact.Id, fact.At, t.Topic.Value, t.Trainer?.Value, t.Evidence, [.. t.Grants.Select(g => g.Value)], t.ValidUntil)
        : null;

    private static QuantityValue? Quantity(EnteredQuantity? quantity) => quantity is { } q ? new() { Value = q.Value, Unit = q.Unit } : null;

    // The stored form of a revision is its wire form.
    private static RoutingRevision Revision(Domain.Routings.RoutingRevision revision) =>
        JsonSerializer.Deserialize<RoutingRevision>(JsonSerializer.Serialize(revision, EventJson.Options), WireJson.Options)!;
}
