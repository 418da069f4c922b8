using Traceability.Service.Features.Access;
using Traceability.Service.Features.Alarms;
using Traceability.Service.Features.Attachments;
using Traceability.Service.Features.Batches;
using Traceability.Service.Features.Containments;
using Traceability.Service.Features.Definitions;
using Traceability.Service.Features.Dispersion;
using Traceability.Service.Features.Findings;
using Traceability.Service.Features.History;
using Traceability.Service.Features.Intervals;
using Traceability.Service.Features.Lots;
using Traceability.Service.Features.MasterData;
using Traceability.Service.Features.Nonconformances;
using Traceability.Service.Features.People;
using Traceability.Service.Features.Rebuilds;
using Traceability.Service.Features.Recording;
using Traceability.Service.Features.Releases;
using Traceability.Service.Features.Revisions;
using Traceability.Service.Features.Scope;
using Traceability.Service.Features.SharedFactors;
using Traceability.Service.Features.Shipments;
using Traceability.Service.Features.Signing;
using Traceability.Service.Features.Tools;
using Traceability.Service.Features.Units;
using Traceability.Service.Features.Yield;
using Traceability.Service.Http;
using Traceability.Service.Security;
using Traceability.Service.Telemetry;

namespace Traceability.Service;

/// <summary>The list of features: nothing is discovered by scanning.</summary>
internal static class FeatureList
{
    /// <summary>Adds every feature's services.</summary>
    public static void Add(WebApplicationBuilder builder)
    {
        builder.AddHttp();
        builder.AddTelemetry();
        builder.Services.AddAccessControl();
        builder.Services.AddOpenApiDocument();
        builder.Services.AddAccess();
        builder.Services.AddRecording();
        builder.Services.AddMasterData();
        builder.Services.AddDefinitions();
        builder.Services.AddTools();
        builder.Services.AddLots();
        builder.Services.AddDispersion();
        builder.Services.AddBatches();
        builder.Services.AddUnits();
        builder.Services.AddPeople();
        builder.Services.AddRevisions();
        builder.Services.AddReleases();
        builder.Services.AddShipments();
        builder.Services.AddScope();
        builder.Services.AddContainments();
        builder.Services.AddSharedFactors();
        builder.Services.AddYield();
        builder.Services.AddIntervals();
        builder.Services.AddFindings();
        builder.Services.AddNonconformances();
        builder.Services.AddRebuilds();
        builder.Services.AddHistory();
    }

    /// <summary>Maps every feature's endpoints.</summary>
    public static void Map(WebApplication app)
    {
        app.UseHttp();
        app.UseAccessControl();
        app.UseWriteGate();
        app.UseKnownQuery();
        app.UseRequiredContentType();
        app.UseBrokenRequests();
        app.MapTelemetry();
        app.MapReference();
        app.MapProblems();
        var api = app.MapGroup("/api").RefuseUnknownQuery();
        api.MapAccess();
        api.MapRecording();
        api.MapMasterData();
        api.MapDefinitions();
        api.MapTools();
        api.MapLots();
        api.MapDispersion();
        api.MapBatches();
        api.MapUnits();
        api.MapPeople();
        api.MapRevisions();
        api.MapReleases();
        api.MapShipments();
        api.MapSigning();
        api.MapScope();
        api.MapContainments();
        api.MapSharedFactors();
        api.MapYield();
        api.MapIntervals();
        api.MapFindings();
        api.MapNonconformances();
        api.MapAttachments();
        api.MapAlarms();
        api.MapRebuilds();
        api.MapHistory();
    }

    /// <summary>What must be there before the first request.</summary>
    public static Task StartAsync(WebApplication app, string dataFolder, CancellationToken cancellation) =>
        AccessControl.StartAsync(app, dataFolder, cancellation);
}
