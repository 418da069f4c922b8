using Traceability.Domain.Batches;
using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.People;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Domain.Sites;
using Traceability.Domain.Tools;

namespace Traceability.Service.Ingest;

/// <summary>Which streams must be known to decide a fact, beside the one that it goes to.</summary>
internal static class NeededBy
{
    /// <summary>Adds their names.</summary>
    public static void Add(ISet<string> names, Fact fact)
    {
        Dependencies.Add(names, fact);
        switch (fact)
        {
            case IUnitFact f:
                names.Add(StreamNames.OfItem(f.Unit.Item));
                names.Add(StreamNames.OfRouting(f.Unit.Item));
                break;
            case IBatchFact f:
                names.Add(StreamNames.Of(f.Batch));
                names.Add(StreamNames.OfItem(f.Batch.Item));
                break;
            case ILotFact f:
                names.Add(StreamNames.Of(f.Lot));
                names.Add(StreamNames.OfItem(f.Lot.Item));
                AddSources(names, f);
                break;
            case ToolCalibrated or ToolSettingVerified or ToolChecked or ToolStudied or ToolWithdrawn or ToolReinstated:
            case QualificationGranted or QualificationWithdrawn:
                names.Add(StreamNames.Of(fact)!);
                break;
            case StationDefined f:
                names.Add(StreamNames.Of(f.Site));
                break;
            case TemperatureRecorded f:
                names.Add(StreamNames.Of(f.Place));
                break;
            case RoutingReleased f:
                names.Add(StreamNames.OfRouting(f.Item));
                names.Add(StreamNames.OfItem(f.Item));
                break;
            case RoutingApproved f:
                names.Add(StreamNames.OfRouting(f.Item));
                names.Add(StreamNames.Of(f.ApprovedBy));
                break;
            case ReplacementDeclared f:
                names.Add(StreamNames.OfRouting(f.Item));
                names.UnionWith(new[] { f.Item, f.Replaced, f.With }.Select(StreamNames.OfItem));
                names.Add(StreamNames.Of(f.AuthorisedBy));
                break;
            case TrainingCompleted f:
                names.Add(StreamNames.Of(f.Subject));
                if (f.Trainer is { } trainer)
                {
                    names.Add(StreamNames.Of(trainer));
                }

                break;
            case RoutingDrafted f:
                AddItems(names, f.Revision);
                break;
        }
    }

    private static void AddSources(ISet<string> names, ILotFact fact)
    {
        if (fact is ILotInflow inflow)
        {
            foreach (var source in inflow.Sources)
            {
                names.Add(StreamNames.Of(source.Lot));
            }
        }
    }

    private static void AddItems(ISet<string> names, RoutingRevision revision)
    {
        names.Add(StreamNames.OfRouting(revision.Item));
        names.Add(StreamNames.OfItem(revision.Item));
        foreach (var step in revision.Steps)
        {
            foreach (var item in step.Materials.SelectMany(m => m.Alternatives.Add(m.Item)).Concat(step.Components.SelectMany(c => c.Alternatives.Add(c.Item))))
            {
                names.Add(StreamNames.OfItem(item));
            }
        }
    }
}
